"""A piece of advice: words with the number to fly and the number flown. Data only."""

from __future__ import annotations

from dataclasses import dataclass

from analyser.grading.wording import Number


@dataclass(frozen=True)
class Advice:
    """One piece of advice.

    Attributes
    ----------
    words : str
        With ``{fly}`` and ``{flown}`` where the numbers belong.
    fly : Number
        What to fly next time.
    flown : Number
        What was flown.
    """

    words: str
    fly: Number
    flown: Number

    def said(self, variation_deg: float | None = None) -> str:
        """Write the advice.

        Parameters
        ----------
        variation_deg : float or None
            For magnetic directions; true ones where it is not known.
        """
        return self.words.format(fly=self.fly.said(variation_deg), flown=self.flown.said(variation_deg))
