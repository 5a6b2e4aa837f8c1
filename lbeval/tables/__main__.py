"""Print the data dictionary."""

import sys

from lbeval.tables.dictionary import dictionary

sys.stdout.write(dictionary())
