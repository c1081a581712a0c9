"""Two distances crossing, against a printed example.

J. S. Squire, University of Maryland Baltimore County, "find circle to circle intersection", printed run
http://userpages.umbc.edu/~squire/download/circle_circle_c.out. Read there; six decimals.
"""

from __future__ import annotations

import numpy as np
import pytest

from staking.marks.swing import where_tapes_cross


@pytest.mark.parametrize(
    ("side", "printed"), [("left", (0.055856, 1.793918)), ("right", (1.696964, -1.078021))]
)
def test_both_crossings(side, printed):
    at = where_tapes_cross(
        start_en_m=np.array([-0.1, -0.2]),
        end_en_m=np.array([2.0, 1.0]),
        from_start_m=2.0,
        from_end_m=2.1,
        side=side,
    )
    assert at == pytest.approx(printed, abs=0.6e-6)
