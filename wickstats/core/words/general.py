"""Sentences that stand on every page."""

ENGLISH = {
    "p below": "below 0.001",
    "no layout record what": "the layout has no record of its draw",
    "no layout record planned": "layout.record.json beside the layout, as randomize wrote it",
    "no layout record done": "none was read, so that this layout was drawn at random is only claimed",
    "changed plan what": "the trial file was changed after the layout was drawn",
    "changed plan planned": "design, factors, responses and plan as the layout's record has them",
    "changed plan done": "a trial file whose digest differs; say what was changed, when and why",
    "not advice": "This report is not engineering or safety advice.",
}
