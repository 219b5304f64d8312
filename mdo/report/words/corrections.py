"""Words on how an optimum was found for dearer levels than those optimised with."""

from __future__ import annotations

import pandas as pd

DIRECT = "direct"


def corrections_words(steps: pd.DataFrame) -> str:
    """Return where the corrections ended, and what they took of the dear model."""
    last, taken = steps.iloc[-1], int(steps["taken"].sum()) - 1
    refused = int((~steps["taken"]).sum())
    took = f"{last.dear_evaluations} designs evaluated, {last.dear_gradients} of them with slopes"
    if last.way == DIRECT:
        return f"The corrections did not carry: minimised directly at the dear levels ({took})."
    return f"Ended by corrections, {taken} taken and {refused} refused ({took})."
