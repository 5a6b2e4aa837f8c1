"""A name must lead to exactly one person or to a question; never to a guess."""

from __future__ import annotations

import pandas as pd
import pytest

from lbeval.tidy.identity import Identity, jersey_digits, turned

DAY = pd.Timestamp("2025-09-06")


def identity() -> Identity:
    names = {
        "hale-marcus": "Marcus Hale",
        "hale-micah": "Micah Hale",
        "oneil": "José O'Neil-Price Jr.",
        "cruz": "Ana de la Cruz",
        "vance": "Teo Vance III",
        "price": "Price",
        "akerholt": "Nils Åkerholt",
    }
    worn = [
        ("hale-marcus", "44", None, "2025-08-31"),
        ("hale-marcus", "45", "2025-09-01", None),
        ("hale-micah", "47", None, None),
        ("cruz", "00", None, None),
        ("vance", "0", None, None),
        ("price", "9", None, None),
        ("oneil", "9", None, None),
    ]
    players = pd.DataFrame({"player_id": list(names), "name": list(names.values())})
    jerseys = pd.DataFrame(worn, columns=["player_id", "jersey", "date_from", "date_to"])
    return Identity(players, jerseys.astype({"date_from": "datetime64[us]", "date_to": "datetime64[us]"}))


@pytest.mark.parametrize(
    ("written", "player"),
    [
        ("Marcus Hale", "hale-marcus"),
        ("  marcus   HALE ", "hale-marcus"),
        ("Hale, Marcus", "hale-marcus"),
        ("HALE MARCUS", "hale-marcus"),
        ("hale-micah", "hale-micah"),
        ("José O’Neil-Price", "oneil"),
        ("O'Neil-Price", "oneil"),
        ("oneil price", "oneil"),
        ("J. O'Neil-Price", "oneil"),
        ("O'Neil-Price, J.", "oneil"),
        ("O'Neil–Price Jr", "oneil"),
        ("Mr. de la Cruz", "cruz"),
        ("Cruz", "cruz"),
        ("A. de la Cruz", "cruz"),
        ("Vance", "vance"),
        ("T Vance", "vance"),
        ("Vance, Teo III", "vance"),
        ("Price", "price"),
        ("45", "hale-marcus"),
        ("#45", "hale-marcus"),
        ("45.0", "hale-marcus"),
        ("00", "cruz"),
        ("0", "vance"),
        ("45 Hale", "hale-marcus"),
        ("#47 M. Hale", "hale-micah"),
        ("Hale 47", "hale-micah"),
        ("Hale (47)", "hale-micah"),
    ],
)
def test_a_form_that_fits_one_person_is_used(written: str, player: str) -> None:
    assert identity().find(written, DAY).id == player


@pytest.mark.parametrize(
    ("written", "near"),
    [
        ("Hale", "Marcus Hale; Micah Hale"),
        ("M. Hale", "Marcus Hale; Micah Hale"),
        ("Mi. Hale", "Micah Hale"),
        ("9", "José O'Neil-Price Jr.; Price"),
        ("44", "Marcus Hale"),
        ("44 Hale", "Marcus Hale; Micah Hale"),
        ("Nils Akerholt", "Nils Åkerholt"),
        ("Akerholdt", "Nils Åkerholt"),
        ("Marcus Hail", "Marcus Hale"),
        ("TOTAL", ""),
    ],
)
def test_what_fits_nobody_or_several_is_asked_with_the_nearest_names(written: str, near: str) -> None:
    match = identity().find(written, DAY)
    assert match.id == ""
    assert set(filter(None, near.split("; "))) <= set(match.near.split("; "))


def test_a_number_is_his_who_wore_it_that_day() -> None:
    people = identity()
    assert people.find("44", pd.Timestamp("2025-08-31")).id == "hale-marcus"
    assert people.find("45", pd.Timestamp("2025-08-31")).id == ""
    assert people.find("44", None).id == "hale-marcus"
    assert "2025-09-06" in people.find("44", DAY).message


@pytest.mark.parametrize(
    ("written", "digits"),
    [("#07", "7"), ("00", "00"), ("0", "0"), ("44.0", "44"), ("144", ""), ("4a", ""), ("", "")],
)
def test_jersey_digits(written: str, digits: str) -> None:
    assert jersey_digits(written) == digits


@pytest.mark.parametrize(
    ("written", "name"),
    [("Hale, Marcus", "Marcus Hale"), ("Hale, Jr.", "Hale, Jr."), ("Hale", "Hale"), ("Hale,", "Hale,")],
)
def test_a_name_is_turned_at_its_comma(written: str, name: str) -> None:
    assert turned(written) == name
