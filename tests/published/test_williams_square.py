"""Williams squares: what E. J. Williams, Aust. J. Sci. Res. A 2 (1949) 149-168, proves of them; cited from memory.

For an even number of treatments one Latin square does in which each treatment follows each other exactly once; for an
odd number two squares do, and each follows each other twice.
"""

from collections import Counter
from itertools import pairwise, permutations

import pytest

from thermal_model.plan.schedule import williams_square


@pytest.mark.parametrize("count", range(2, 13))
def test_each_follows_each_other_equally_often(count):
    rows = williams_square(count)
    times = 1 if count % 2 == 0 else 2
    assert len(rows) == times * count
    assert Counter(pair for row in rows for pair in pairwise(row)) == dict.fromkeys(
        permutations(range(count), 2), times
    )


@pytest.mark.parametrize("count", range(1, 13))
def test_rows_and_columns_hold_each_treatment_once(count):
    rows = williams_square(count)
    for start in range(0, len(rows), count):
        square = rows[start : start + count]
        for line in (*square, *zip(*square, strict=True)):
            assert sorted(line) == list(range(count))


def test_first_row_of_four():
    """1 2 4 3, as tabulated: Cochran and Cox, Experimental Designs (1957), plan 4.2; from memory."""
    assert [entry + 1 for entry in williams_square(4)[0]] == [1, 2, 4, 3]
