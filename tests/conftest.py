"""How the property tests draw their examples.

At a desk they search: other examples on every run. Where a change is judged (``--hypothesis-profile judging``) they
draw the same ones each time, so that what fails there is the change's own doing. Neither traces which lines a failing
example ran through: that costs every passing one more than half of its time.
"""

from __future__ import annotations

from hypothesis import Phase, settings

_PHASES = [phase for phase in Phase if phase is not Phase.explain]

settings.register_profile("searching", phases=_PHASES)
settings.register_profile("judging", phases=_PHASES, derandomize=True, database=None)
settings.load_profile("searching")
