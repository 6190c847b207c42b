"""Sentences about the second engine."""

ENGLISH = {
    "second no units": "no unit values to compute from",
    "second too large": "too many rows for a dense matrix; recomputed by this program only",
    "second rule": "no independent code for this rule; recomputed by this program only",
    "second not estimable": "the report gives no number here",
    "second refused": "the second engine does not answer: {why}",
    "second strata unknown": "it does not know the strata of the design type {type}",
    "second split covariate": (
        "beside a covariate only comparisons inside one stratum of a complete trial are checked"
    ),
    "second split gaps": "whole plots have gaps, or units differ in their numbers of plants",
}
