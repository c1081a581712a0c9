"""Outside diameters, walls and plain-end weights of steel pipe, schedule 40.

ASTM A53/A53M Table X2.2 (NPS 2 to 3 in both units, as a vendor's page reproduces it); NPS 1-1/2 to 4 in
inches also at https://qwhub.com/utilities/pipe-dimensions; walls at
http://www.jagdishmetal.com/service/dimension-chart; kg/m of NPS 1-1/2 and 4 from memory of the same table.
Weights by ASME B36.10M: 10.69 (D − t) t lb/ft.
"""

import pytest

from staking.pipes.sizes import pipe_size

IN = 0.0254
LB_PER_FT = 0.45359237 / 0.3048
PRINTED_LB_PER_FT = 0.01
PRINTED_KG_PER_M = 0.01

TABLE = [
    # NPS, OD in, wall in, ID in, lb/ft, OD mm, wall mm, kg/m
    ("1-1/2", 1.900, 0.145, 1.610, 2.72, 48.3, 3.68, 4.05),
    ("2", 2.375, 0.154, 2.067, 3.66, 60.3, 3.91, 5.44),
    ("2-1/2", 2.875, 0.203, 2.469, 5.80, 73.0, 5.16, 8.63),
    ("3", 3.500, 0.216, 3.068, 7.58, 88.9, 5.49, 11.29),
    ("4", 4.500, 0.237, 4.026, 10.80, 114.3, 6.02, 16.07),
]


@pytest.mark.parametrize(("nps", "od", "wall", "inside", "lb", "od_mm", "wall_mm", "kg"), TABLE)
def test_schedule_40(nps, od, wall, inside, lb, od_mm, wall_mm, kg):
    size = pipe_size(f"NPS {nps} sch 40")
    assert size.source == "ASTM A53"
    assert size.od_m == pytest.approx(od * IN, abs=1e-9)
    assert size.wall_m == pytest.approx(wall * IN, abs=1e-9)
    assert (size.od_m - 2 * size.wall_m) / IN == pytest.approx(inside, abs=1e-6)
    assert size.kg_per_m / LB_PER_FT == pytest.approx(lb, abs=PRINTED_LB_PER_FT)
    # The metric columns are the inch ones rounded: diameters to 0.1 mm, walls to 0.01 mm.
    assert size.od_m * 1000 == pytest.approx(od_mm, abs=0.051)
    assert size.wall_m * 1000 == pytest.approx(wall_mm, abs=0.0051)
    assert size.kg_per_m == pytest.approx(kg, abs=PRINTED_KG_PER_M)
