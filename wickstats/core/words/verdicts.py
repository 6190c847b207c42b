"""A grower's sentence for every verdict, and what would tell where we cannot.

Leans on nothing.
"""

ENGLISH = {
    # the lead of each verdict
    "verdict better": "{treatment} did better than {versus} in {response}: {effect}.",
    "verdict worse": "{treatment} did worse than {versus} in {response}: {effect}.",
    "verdict more": "{treatment} had more than {versus} in {response}: {effect}.",
    "verdict less": "{treatment} had less than {versus} in {response}: {effect}.",
    "verdict same": (
        "For practical purposes {treatment} and {versus} are the same in {response}: {effect}; "
        "a difference below {matters} was agreed beforehand not to matter."
    ),
    "verdict same better": (
        "For practical purposes {treatment} and {versus} are the same in {response}, though "
        "{treatment} is slightly better: {effect}; a difference below {matters} was agreed "
        "beforehand not to matter."
    ),
    "verdict same worse": (
        "For practical purposes {treatment} and {versus} are the same in {response}, though "
        "{treatment} is slightly worse: {effect}; a difference below {matters} was agreed "
        "beforehand not to matter."
    ),
    "verdict same more": (
        "For practical purposes {treatment} and {versus} are the same in {response}, though "
        "{treatment} has slightly more: {effect}; a difference below {matters} was agreed "
        "beforehand not to matter."
    ),
    "verdict same less": (
        "For practical purposes {treatment} and {versus} are the same in {response}, though "
        "{treatment} has slightly less: {effect}; a difference below {matters} was agreed "
        "beforehand not to matter."
    ),
    "verdict no worse": (
        "{treatment} is no worse than {versus} in {response} by more than matters "
        "({matters}), and may be better: {effect}."
    ),
    "verdict no better": (
        "{treatment} is no better than {versus} in {response} by more than matters "
        "({matters}), and may be worse: {effect}."
    ),
    "verdict no less": (
        "{treatment} has no less than {versus} in {response} by more than matters "
        "({matters}), and may have more: {effect}."
    ),
    "verdict no more": (
        "{treatment} has no more than {versus} in {response} by more than matters "
        "({matters}), and may have less: {effect}."
    ),
    "verdict cannot tell": (
        "We cannot tell from this season whether {treatment} and {versus} differ in "
        "{response}: {effect}."
    ),
    # the effect with its interval
    "effect share": "{value} {many} alive of 100 {done} ({confidence} interval: {low} to {high})",
    "effect share same": (
        "as many {many} alive of 100 {done} ({confidence} interval: {low} to {high})"
    ),
    "effect share one": "{value} {one} alive of 100 {done} ({confidence} interval: {low} to {high})",
    "effect share side": (
        "{value} {many} alive of 100 {done}; with {confidence} confidence {end} {limit}"
    ),
    "effect share side same": (
        "as many {many} alive of 100 {done}; with {confidence} confidence {end} {limit}"
    ),
    "effect share side one": (
        "{value} {one} alive of 100 {done}; with {confidence} confidence {end} {limit}"
    ),
    "end at least": "at least",
    "end at most": "no more than",
    "as many": "as many",
    "effect share bound": (
        "{value} {many} alive of 100 {done}; {fates}, and allowing for luck in that, the true "
        "difference lies {limit}"
    ),
    # what the records followed: plants, or subjects of another kind
    "plants many": "plants",
    "plants one": "plant",
    "plants done": "planted",
    "subjects many": "subjects",
    "subjects one": "subject",
    "subjects done": "followed",
    "fate lived": "lived",
    "fate died": "died",
    "fate known": "whose fate is known {fate}",
    "fate of one": "every {one} of {name} {fate}",
    "fate of both": "every {one} of {name} and of {other} {fate}",
    "fates apart": "every {one} of {name} {fate} and every {one} of {other} {second}",
    "bound range": "between {low} and {high} of 100",
    "bound above": "above {low} of 100",
    "bound below": "below {high} of 100",
    "bound note": (
        "Where every plant of a treatment lived, or every one died, its plots cannot show how "
        "far such a result moves by chance: there the interval counts the losses that luck may "
        "have hidden, each end holding alone, the verdict is read from it, and there is no p."
    ),
    "bound reason": (
        "{fates}, so the plots cannot show how far such a result moves by chance; the range and "
        "the verdict count the losses that luck may have hidden (each end of the range alone "
        "holds with {confidence} confidence), and there is no p of this kind"
    ),
    "n more": "{n} more",
    "n fewer": "{n} fewer",
    "no more": "no more",
    "effect ratio": "{percent}, that is {ratio} times ({confidence} interval: {low} to {high} times)",
    "percent more": "{n} % more",
    "percent less": "{n} % less",
    "percent same": "about the same",
    "effect difference": "{value} ({confidence} interval: {low} to {high})",
    "value more": "{n}{unit} more",
    "value less": "{n}{unit} less",
    "effect without interval": "the estimate is {value}, without an interval",
    # what would tell
    "would tell": (
        "To tell a true difference of {matters}, about {blocks} {what} would be needed if units "
        "scatter as they did here, and {upper} if they scatter as much as this season cannot "
        "rule out."
    ),
    "would tell many": (
        "To tell a true difference of {matters}, more than {most} {what} would be needed if "
        "units scatter as they did here."
    ),
    "would tell upper many": "more than {most}",
    "says little of variance": (
        "With {df} degrees of freedom this season says little about the variance, so these "
        "numbers are rough."
    ),
    "would tell without matters": (
        "More units would narrow the interval; how many depends on the smallest difference "
        "that matters, which the plan does not name."
    ),
    "blocks": "blocks",
    "whole replicates": "replicates",
    "units of each treatment": "units of each treatment",
    "no better side": (
        "The plan asks only whether each is better, but says of this response that neither way "
        "is: it is judged on both sides."
    ),
    # roles and withholding
    "unplanned in the report": "{n} more that the plan does not name: see the report.",
    "secondary": "Secondary response: {sentence}",
    "exploratory": "Exploratory, not planned: {sentence}",
    "verdict not at random": (
        "Treatments were not given to plots at random, so position and method cannot be told "
        "apart: {treatment} against {versus} in {response} gets no verdict ({effect})."
    ),
    "verdict survivors": (
        "No verdict on the {response} of {treatment} against {versus}: their survival differs "
        "by more than matters ({difference} alive of 100 planted), so the survivors are not the "
        "same kind of plants ({effect})."
    ),
    "verdict no inference": (
        "No verdict on {treatment} against {versus} in {response}: {reason}"
    ),
    "matters share": "{n} {many} of 100",
    "matters ratio": "{n} %",
    "matters difference": "{n}{unit}",
}
