"""Sentences that stand on every page."""

ENGLISH = {
    "changed plan what": "the trial file was changed after the layout was drawn",
    "changed plan planned": "design, factors, responses and plan as the layout's record has them",
    "changed plan done": "a trial file whose digest differs; say what was changed, when and why",
    "not advice": "This report is not engineering or safety advice.",
    "invented": "This trial and all its data are invented, for demonstration.",
}
