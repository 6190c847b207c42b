"""Sentences about the second engine."""

ENGLISH = {
    "second no units": "no unit values to compute from",
    "second restricted": "needs every plant's own time; recomputed by this program only",
    "second too large": "too many rows for a dense matrix; recomputed by this program only",
    "second rule": "no independent code for this rule; recomputed by this program only",
    "second not estimable": "the report gives no number here",
    "second refused": "the second engine does not answer: {why}",
}
