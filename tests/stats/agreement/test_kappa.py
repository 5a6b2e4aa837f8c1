from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.inter_rater import cohens_kappa

from lbeval.errors import FitError
from lbeval.stats.agreement import kappa, raw
from lbeval.stats.agreement.coefficient import Note
from lbeval.stats.agreement.weights import agreement_weights, from_disagreement
from tests.stats.published import Case

FloatArray = npt.NDArray[np.float64]
TABLES = st.lists(st.integers(0, 30), min_size=9, max_size=9).map(lambda cells: np.reshape(cells, (3, 3)))


def expand(table: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    cells = np.asarray(table, dtype=int)
    rows, columns = np.indices(cells.shape)
    return (
        np.repeat(rows.ravel(), cells.ravel()).astype(float),
        np.repeat(columns.ravel(), cells.ravel()).astype(float),
    )


def test_cohen_1960_and_1968() -> None:
    case = Case("cohen_1960_1968")
    table = case.matrix("table")
    plain = kappa.cohen_table(table, level=0.95)
    case.check("p_o, p_e", [plain.observed, plain.expected])
    case.check("kappa", plain.estimate)
    case.check("kappa exact, ASE, ASE0", [plain.estimate, plain.std_error, plain.std_error_null])
    case.check("kappa 95% CI", [plain.conf_low, plain.conf_high])
    own = kappa.cohen_table(table, weights=from_disagreement(case.matrix("disagreement_weights_cohen1968")))
    case.check("weighted kappa with the 0-1-3-6 disagreement weights", own.estimate)
    case.check("weighted kappa (Cohen weights), ASE, ASE0", [own.estimate, own.std_error, own.std_error_null])
    for weights in ("linear", "quadratic"):
        found = kappa.cohen_table(table, weights=weights)
        case.check(f"{weights} weighted kappa, ASE", [found.estimate, found.std_error])


def test_sas_example() -> None:
    case = Case("sas_kappa_example")
    found = kappa.cohen_table(case.matrix("table"), level=0.95)
    case.check("kappa, ASE, lo, hi", [found.estimate, found.std_error, found.conf_low, found.conf_high])
    case.check("ASE under H0, z", [found.std_error_null, found.estimate / found.std_error_null])
    found = kappa.cohen_table(case.matrix("table"), weights="linear", level=0.95)
    case.check(
        "weighted kappa (0,1,2), ASE, lo, hi",
        [found.estimate, found.std_error, found.conf_low, found.conf_high],
    )


def test_the_prevalence_and_bias_paradox() -> None:
    case = Case("prevalence_and_bias_paradox")
    for name, table in case.data["tables"].items():
        found = kappa.cohen_table(table)
        case.check(f"{name} p_o, kappa", [found.raw_agreement, found.estimate])
        case.check(f"{name} kappa exact, ASE", [found.estimate, found.std_error])
        case.check(f"{name} PABAK, prevalence index, bias index", raw.two_by_two(table))


def test_fleiss_1971_with_the_variance_of_1979() -> None:
    case = Case("fleiss_1971")
    counts = np.column_stack([v for k, v in case.table().items() if k != "subject"])
    found = kappa.fleiss_counts(counts)
    case.check("P-bar, P-bar-e", [found.observed, found.expected])
    case.check("kappa", found.estimate)
    case.check("kappa exact", found.estimate)
    case.check(
        "SE0 (Fleiss, Nee & Landis 1979) and z",
        [found.std_error_null, found.estimate / found.std_error_null],
    )
    superseded = case.expected["SE by the superseded 1971 formula"]["value"]
    assert found.std_error_null < superseded - 0.003
    each = kappa.fleiss_categories(counts)
    case.check(
        "per-category kappa_j and common SE0", [*(one.estimate for one in each), each[0].std_error_null]
    )
    pseudo = np.column_stack(list(case.table("csv_pseudo_raters").values()))
    case.check(
        "Light's kappa (mean pairwise Cohen) on the pseudo-rater columns",
        kappa.light(pseudo, [1, 2, 3, 4, 5]).estimate,
    )
    case.check("marginal proportions", [share.estimate for share in raw.prevalence(pseudo, [1, 2, 3, 4, 5])])
    by_rater = kappa.fleiss(pseudo, [1, 2, 3, 4, 5])
    np.testing.assert_allclose([by_rater.estimate, by_rater.std_error], [found.estimate, found.std_error])


def test_fleiss_worked_example() -> None:
    case = Case("fleiss_wikipedia_10x5")
    counts = case.matrix("counts")
    found = kappa.fleiss_counts(counts)
    case.check("Fleiss kappa", found.estimate)
    case.check("P_i", [kappa.fleiss_counts(row[None]).raw_agreement for row in counts])


def test_light_of_two_raters_is_cohen() -> None:
    first, second = expand([[20, 5, 1], [3, 15, 6], [0, 4, 9]])
    for weights in ("identity", "linear", "quadratic"):
        one = kappa.cohen(first, second, [0, 1, 2], weights=weights)
        mean = kappa.light(np.column_stack([first, second]), [0, 1, 2], weights=weights)
        np.testing.assert_allclose([mean.estimate, mean.std_error], [one.estimate, one.std_error], rtol=1e-12)


def test_an_unused_category_of_the_declared_scale_counts() -> None:
    first, second = expand([[6, 3], [2, 9]])
    narrow = kappa.cohen(first, second, [0, 1], weights="quadratic")
    wide = kappa.cohen(first, second, [0, 1, 3], weights="quadratic")
    assert narrow.estimate == pytest.approx(wide.estimate)  # two used categories: any weights are the same
    first, second = expand([[6, 3, 1], [2, 9, 2], [0, 1, 5]])
    dropped = kappa.cohen_table([[6, 3, 1], [2, 9, 2], [0, 1, 5]], weights="linear")
    kept = kappa.cohen(
        np.where(first == 2, 3, first), np.where(second == 2, 3, second), [0, 1, 2, 3], weights="linear"
    )
    assert abs(dropped.estimate - kept.estimate) > 0.01


def test_missing_ratings_are_left_out_pair_by_pair() -> None:
    first, second = expand([[8, 2], [1, 9]])
    padded = kappa.cohen(np.append(first, [np.nan, 1]), np.append(second, [1, np.nan]), [0, 1])
    assert padded == kappa.cohen(first, second, [0, 1])


def test_two_raters_who_never_share_a_play() -> None:
    found = kappa.cohen([1, np.nan], [np.nan, 0], [0, 1])
    assert found.note == Note.NO_OVERLAP
    assert np.isnan(found.estimate)
    assert found.n == 0
    light = kappa.light([[1, np.nan], [np.nan, 0]], [0, 1])
    assert light.note == Note.NO_OVERLAP
    assert kappa.cohen([1, 0], [np.nan, np.nan], [0, 1]).note == Note.ONE_RATER
    assert kappa.cohen([], [], [0, 1]).note == Note.NO_RATINGS


def test_one_category_only_gives_raw_agreement_and_a_note() -> None:
    for found in (
        kappa.cohen([1, 1, 1], [1, 1, 1], [0, 1]),
        kappa.light(np.ones((3, 4)), [0, 1]),
        kappa.fleiss(np.ones((3, 4)), [0, 1]),
    ):
        assert found.note == Note.CONSTANT
        assert np.isnan(found.estimate)
        assert np.isnan(found.conf_low)
        assert found.raw_agreement == 1


def test_a_rater_who_never_changes_his_grade_is_named() -> None:
    found = kappa.cohen([1, 1, 1, 1], [1, 1, 1, 0], [0, 1])
    assert found.note == Note.CONSTANT_RATER
    assert found.estimate == 0
    assert np.isnan(found.conf_low)
    assert found.raw_agreement == 0.75


def test_no_disagreement_still_has_an_interval() -> None:
    found = kappa.cohen([0, 1, 0, 1, 1], [0, 1, 0, 1, 1], [0, 1])
    assert found.note == Note.NO_DISAGREEMENT
    assert found.estimate == found.conf_high == 1
    assert found.conf_low < 0.5


def test_one_shared_play_has_no_interval() -> None:
    found = kappa.cohen([0], [1], [0, 1])
    assert found.note == Note.CONSTANT_RATER
    assert kappa.fleiss([[0, 1, 1]], [0, 1]).note == Note.ONE_UNIT


def test_unequal_numbers_of_raters_have_no_null_error() -> None:
    found = kappa.fleiss(np.array([[0, 1, np.nan], [1, 1, 1], [0, 0, 1], [0, 1, 1]]), [0, 1])
    assert np.isnan(found.std_error_null)
    assert np.isfinite(found.std_error)
    with pytest.raises(FitError, match="same number"):
        kappa.fleiss_categories([[1, 1], [1, 2]])


@pytest.mark.parametrize(
    ("ratings", "scale", "words"),
    [
        ([0, 5], [0, 1], "not on the declared scale"),
        ([0, np.inf], [0, 1], "infinite"),
        ([0, 1], [1, 0], "ascending"),
    ],
)
def test_ratings_off_the_scale_are_refused(ratings: list[float], scale: list[float], words: str) -> None:
    with pytest.raises(FitError, match=words):
        kappa.cohen(ratings, [0, 1], scale)


def test_weights_that_do_not_fit_are_refused() -> None:
    with pytest.raises(FitError, match="not known"):
        agreement_weights("cubic", [0, 1])
    with pytest.raises(FitError, match="symmetric"):
        agreement_weights(np.eye(3), [0, 1])
    with pytest.raises(FitError, match="at most 1"):
        agreement_weights([[1, 2], [2, 1]], [0, 1])
    with pytest.raises(FitError, match="above zero"):
        from_disagreement([[0, 0], [0, 0]])


@given(TABLES, st.permutations(range(3)))
def test_plain_kappa_does_not_depend_on_labels_or_on_who_is_first(
    table: FloatArray, order: list[int]
) -> None:
    found = kappa.cohen_table(table)
    for other in (kappa.cohen_table(table[np.ix_(order, order)]), kappa.cohen_table(table.T)):
        assert other.note == found.note
        np.testing.assert_allclose(
            [other.estimate, other.std_error, other.conf_low],
            [found.estimate, found.std_error, found.conf_low],
            atol=1e-8,
        )
    if np.isfinite(found.conf_low):
        assert found.conf_low <= found.estimate <= found.conf_high <= 1


@given(TABLES)
def test_standard_errors_are_those_of_statsmodels(table: FloatArray) -> None:
    cells = table + 1.0  # its z value divides by zero on degenerate tables
    for weights in ("identity", "linear", "quadratic"):
        found = kappa.cohen_table(cells, weights=weights)
        distance = 1 - agreement_weights(weights, [0, 1, 2])
        other = cohens_kappa(cells, weights=distance)  # type: ignore[no-untyped-call]
        np.testing.assert_allclose(
            [found.estimate, found.std_error, found.std_error_null],
            [other.kappa, other.std_kappa, other.std_kappa0],
            atol=1e-10,
        )


@given(TABLES, st.floats(0.1, 10), st.floats(-5, 5))
def test_weighted_kappa_does_not_depend_on_the_scale_s_unit(
    table: FloatArray, unit: float, zero: float
) -> None:
    scale = np.array([0.0, 1.0, 3.0])
    for weights in ("linear", "quadratic"):
        one = kappa.cohen_table(table, weights=weights, categories=scale)
        other = kappa.cohen_table(table, weights=weights, categories=zero + unit * scale)
        np.testing.assert_allclose(one.estimate, other.estimate, atol=1e-8)
