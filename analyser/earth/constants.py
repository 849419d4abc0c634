"""Units and constants that hold by definition, each written once.

References
----------
International nautical mile, foot and statute mile; standard gravity as in the ICAO standard atmosphere. The
normal distribution's quartile is 0.67449 sigmas.
"""

from __future__ import annotations

METRES_PER_NM = 1852.0
METRES_PER_FOOT = 0.3048
#: Knots in a metre per second, and metres per second in a knot.
KT_PER_MPS = 3600.0 / METRES_PER_NM
MPS_PER_KT = METRES_PER_NM / 3600.0
#: A day in seconds.
DAY_S = 86_400.0
#: Standard gravity, m/s².
GRAVITY = 9.80665
#: One sigma of normal errors in units of the median of their sizes.
SIGMA_PER_MEDIAN = 1.4826
