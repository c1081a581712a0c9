"""Declination against the model's own test values.

NOAA National Centers for Environmental Information and British Geological Survey, WMM2025_TEST_VALUES.txt
(the text file that comes with the World Magnetic Model 2025), as carried in the pygeomag repository,
https://github.com/boxpet/pygeomag, test/test_values. Read there; all of its hundred rows.
"""

from __future__ import annotations

import math
from datetime import date

import pytest

from staking.north.declination import declination_rad

# Decimal year, altitude km, latitude, longitude, declination (degrees), horizontal intensity (nT).
ROWS = (
    (2025.0, 28, 89, -121, -99.77, 1504.3),
    (2025.0, 54, 82, 87, 54.89, 2302.4),
    (2025.0, 51, -33, 109, -5.49, 21838.0),
    (2025.0, 3, -50, -103, 27.96, 22106.0),
    (2025.0, 66, 14, 143, -0.19, 35003.6),
    (2025.5, 6, -36, -137, 20.28, 25353.2),
    (2025.5, 69, 38, -144, 12.93, 23096.3),
    (2025.5, 8, -52, -75, 14.91, 20005.5),
    (2025.5, 22, -37, 140, 9.28, 21688.8),
    (2025.5, 44, 33, -118, 11.1, 23678.7),
    (2026.0, 74, -57, 3, -22.51, 14362.2),
    (2026.0, 69, 23, 63, 1.17, 34565.9),
    (2026.0, 47, -72, -22, -6.32, 18392.5),
    (2026.0, 83, 86, -46, -30.61, 3000.3),
    (2026.0, 34, -19, 43, -14.98, 20212.4),
    (2026.5, 14, 0, 80, -3.1, 39489.1),
    (2026.5, 44, -46, -42, -11.36, 14140.3),
    (2026.5, 64, 10, 78, -1.53, 39441.7),
    (2026.5, 12, -79, 115, -137.58, 13023.5),
    (2026.5, 19, 29, 66, 2.24, 32750.0),
    (2027.0, 37, -66, -5, -17.22, 17159.8),
    (2027.0, 44, 22, 174, 6.46, 28867.5),
    (2027.0, 57, -43, 50, -48.27, 16833.4),
    (2027.0, 12, -63, 178, 57.87, 11720.7),
    (2027.0, 61, 59, -77, -16.48, 10884.8),
    (2027.5, 8, 62, 53, 19.39, 12997.8),
    (2027.5, 98, -5, 159, 7.79, 33857.5),
    (2027.5, 60, 27, 65, 1.85, 33079.4),
    (2027.5, 96, -46, -85, 17.93, 19914.5),
    (2027.5, 16, 66, -178, 0.37, 13821.6),
    (2028.0, 49, 20, 167, 5.1, 30251.3),
    (2028.0, 95, 14, 65, -0.51, 36933.9),
    (2028.0, 30, -36, -64, -4.65, 17398.7),
    (2028.0, 21, 6, -32, -14.34, 28453.1),
    (2028.0, 45, -46, -41, -11.68, 13897.6),
    (2028.5, 28, 54, -120, 15.43, 15286.1),
    (2028.5, 39, -65, -88, 29.45, 20609.3),
    (2028.5, 11, 34, 0, 1.57, 29089.2),
    (2028.5, 55, 86, 70, 67.64, 2370.4),
    (2028.5, 65, 48, 148, -9.55, 23693.5),
    (2029.0, 95, -60, -59, 8.58, 18095.6),
    (2029.0, 50, 87, -154, -73.48, 906.9),
    (2029.0, 57, 34, -13, -1.89, 28257.3),
    (2029.0, 49, -50, -179, 32.11, 18080.6),
    (2029.0, 41, 42, -19, -4.13, 24503.5),
    (2029.5, 31, 13, -132, 9.04, 28145.0),
    (2029.5, 51, -76, 40, -56.34, 18517.4),
    (2029.5, 26, -65, 55, -63.48, 18695.7),
    (2029.5, 18, 9, -172, 9.24, 30922.5),
    (2029.5, 33, 17, 5, 0.89, 34026.1),
)
PRINTED_STEP_DEG = 0.01
"""The file prints declination to 0.01°. Half a year is met by a date within half a day of it."""


@pytest.mark.parametrize(("year", "alt_km", "lat", "lon", "printed_deg", "h_nt"), ROWS)
def test_declination(year, alt_km, lat, lon, printed_deg, h_nt):
    day = date(int(year), 1, 1) if year % 1 == 0 else date(int(year), 7, 2)
    found = declination_rad(math.radians(lat), math.radians(lon), day, alt_km * 1000.0)
    assert math.degrees(found.declination_rad) == pytest.approx(printed_deg, abs=PRINTED_STEP_DEG)


@pytest.mark.parametrize(("year", "alt_km", "lat", "lon", "printed_deg", "h_nt"), ROWS)
def test_its_uncertainty_follows_the_report_s_formula(year, alt_km, lat, lon, printed_deg, h_nt):
    # √(0.26² + (5417/H)²) degrees, the model's technical report, by way of pygeomag 1.1.
    day = date(int(year), 1, 1) if year % 1 == 0 else date(int(year), 7, 2)
    found = declination_rad(math.radians(lat), math.radians(lon), day, alt_km * 1000.0)
    # H itself moves by up to 100 nT a year, so half a day of it is 0.2 nT of at least some hundreds.
    assert math.degrees(found.sd_rad) == pytest.approx(math.hypot(0.26, 5417.0 / h_nt), rel=3e-4)
