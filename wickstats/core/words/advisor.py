"""Words of the advisor's part, of its numbers, and of the page's frame and banners.

Every key here, and every other one that the part uses, stands in ``spanish`` too.
Leans on words.plural.
"""

from wickstats.core.words.plural import Entry, Plural

ENGLISH: dict[str, Entry] = {
    # the page's frame
    "page skip": "Skip to the findings",
    "page contents": "Parts of this page",
    "page elsewhere": "The other parts of this page are in English.",
    # banners
    "banner invented": "INVENTED: this trial and all its data are made up, for demonstration.",
    "banner simulated": "SIMULATED: no plant was grown for these numbers.",
    "banner not at random": (
        "NOT AT RANDOM: position and method cannot be told apart, so no verdict is given."
    ),
    "banner early look": (
        "EARLY LOOK: the records end on {until}, before the season does. This page describes; "
        "only a look at the end confirms."
    ),
    "banner not last look": (
        "NOT THE LAST LOOK: a later look at this season is known. This page confirms nothing."
    ),
    # numbers
    "range": "{low} to {high}",
    "no lower limit": "no lower limit",
    "no upper limit": "no upper limit",
    "listed": "{most} and {last}",
    # headings
    "advisor title": "What this trial found",
    "advisor tried": "What was tried",
    "advisor answer": "The answer",
    "advisor sure": "How sure is this?",
    "advisor cost": "What it cost",
    "advisor limits": "Who should not rely on it",
    "advisor more": "What would tell more",
    # what was tried
    "tried arms": "We compared {n} ways: {arms}.",
    "tried one": "We tried one way, as a pilot: {arms}. Nothing was set against it.",
    "tried mixes": "We compared {n} ways: mixes of {factors}.",
    "tried factor": "{factor} ({levels})",
    "tried against": "Each was set against {reference}.",
    "tried factor against": "Each {factor} was set against {reference}.",
    "tried all pairs": "Each was set against each of the others.",
    "tried subjects": "We followed {subjects} in {units}.",
    "tried units": "We used {units} in all.",
    "tried season": "The season ran from {start} to {end}.",
    "tried bench season": "The bench work ran from {start} to {end}.",
    "count plants": Plural("{n} plant", "{n} plants"),
    "count subjects": Plural("{n} subject", "{n} subjects"),
    "count plots": Plural("{n} plot", "{n} plots"),
    "count units": Plural("{n} unit", "{n} units"),
    "count pieces": Plural("{n} piece of cord", "{n} pieces of cord"),
    # the answer
    "answer none": "This trial gives no verdict. The numbers below say what was seen.",
    "answer nothing": (
        "This season left nothing to compare. Why, stands under each response below."
    ),
    "answer pilot only": "A pilot compares nothing. It shows what such plots come to:",
    "answer pilot": "{name}: {value}{unit} on average ({between}).",
    "pilot plots": "Plots",
    "pilot pieces": "Pieces of cord",
    "pilot spread": (
        "{pieces} treated alike differ by about {value} from their average (standard deviation)."
    ),
    "pilot spread percent": (
        "{pieces} treated alike differ by about {percent} % from their average (coefficient of "
        "variation)."
    ),
    "answer primary": "{name}, the main question:",
    "answer secondary": "{name}:",
    "answer exploratory": "{name}, not planned, so only a hint:",
    "answer line better": "{treatment} did better than {versus}: {effect}.",
    "answer line worse": "{treatment} did worse than {versus}: {effect}.",
    "answer line more": "{treatment} had more than {versus}: {effect}.",
    "answer line less": "{treatment} had less than {versus}: {effect}.",
    "answer line the same for practical purposes": (
        "{treatment} is as good as {versus}, for all that matters: {effect}."
    ),
    "answer line the same for practical purposes, though slightly better": (
        "{treatment} is as good as {versus} for all that matters, if slightly better: {effect}."
    ),
    "answer line the same for practical purposes, though slightly worse": (
        "{treatment} is as good as {versus} for all that matters, if slightly worse: {effect}."
    ),
    "answer line the same for practical purposes, though slightly more": (
        "{treatment} is like {versus} for all that matters, if slightly more: {effect}."
    ),
    "answer line the same for practical purposes, though slightly less": (
        "{treatment} is like {versus} for all that matters, if slightly less: {effect}."
    ),
    "answer line no worse by more than matters": (
        "{treatment} is not much worse than {versus}, and may be better: {effect}."
    ),
    "answer line no better by more than matters": (
        "{treatment} is not much better than {versus}, and may be worse: {effect}."
    ),
    "answer line no less by more than matters": (
        "{treatment} has not much less than {versus}, and may have more: {effect}."
    ),
    "answer line no more by more than matters": (
        "{treatment} has not much more than {versus}, and may have less: {effect}."
    ),
    "answer line none": "{treatment} and {versus}: no verdict, for reasons given below.",
    "answer line none at all": "No verdict here. The reasons stand below.",
    "answer line not shown better": (
        "{treatment} was not shown to be better than {versus}: {effect}."
    ),
    "answer line cannot tell": "{treatment} or {versus}: we cannot tell; {effect}.",
    "pair": "{treatment} against {versus}",
    "answer share plants": "{value} of 100 plants alive ({between})",
    "answer share subjects": "{value} of 100 subjects alive ({between})",
    "answer share spared plants": (
        "{value} of 100 plants not dead of other causes than browsing ({between})"
    ),
    "answer share spared subjects": (
        "{value} of 100 subjects not dead of other causes than browsing ({between})"
    ),
    "answer bound": "{effect}; {fates}",
    "answer ratio": "{value} times as much ({between})",
    "answer difference more": "{value}{unit} more ({between})",
    "answer difference less": "{value}{unit} less ({between})",
    "answer difference none": "no difference seen ({between})",
    "answer end more": "{n} more",
    "answer end less": "{n} less",
    "answer end none": "none",
    "answer at most": "at most {n} times as much",
    "answer at least": "at least {n} times as much",
    "answer more": "The other comparisons stand under each response below.",
    # how sure
    "sure level": (
        "The range behind each number holds the true value in {percent} of trials like this."
    ),
    "sure not random": (
        "Nobody can say. The plots were not laid out by chance, so the ground may be the cause."
    ),
    "sure one side": (
        "The plan asked only whether each is better. Whether one is worse was not asked."
    ),
    "sure nothing": "Nobody can say: there are no numbers.",
    "sure blocks": (
        "Plots were compared within {blocks} blocks, so the ground plays little part."
    ),
    "sure runs": "Pieces were compared within {blocks} runs, so the day plays little part.",
    "sure all lived plants": (
        "All plants of {arms} lived. In more plots like these, as few as {n} of 100 may live."
    ),
    "sure all died plants": (
        "All plants of {arms} died. In more plots like these, as many as {n} of 100 may live."
    ),
    "sure all seen lived plants": (
        "All plants of {arms} whose fate is known lived. In more plots like these, as few as "
        "{n} of 100 may live."
    ),
    "sure all seen died plants": (
        "All plants of {arms} whose fate is known died. In more plots like these, as many as "
        "{n} of 100 may live."
    ),
    "sure all seen lived subjects": (
        "All subjects of {arms} whose fate is known lived. Of more like these, as few as {n} "
        "of 100 may live."
    ),
    "sure all seen died subjects": (
        "All subjects of {arms} whose fate is known died. Of more like these, as many as {n} "
        "of 100 may live."
    ),
    "sure all lived subjects": (
        "All subjects of {arms} lived. Of more like these, as few as {n} of 100 may live."
    ),
    "sure all died subjects": (
        "All subjects of {arms} died. Of more like these, as many as {n} of 100 may live."
    ),
    "sure no plan": "No plan was written before planting. Take every finding as a hint.",
    "sure lost": Plural(
        "{n} of {planted} plants was not used. The reason stands below.",
        "{n} of {planted} plants were not used. The reasons stand below.",
    ),
    "sure lost subjects": Plural(
        "{n} of {planted} subjects was not used. The reason stands below.",
        "{n} of {planted} subjects were not used. The reasons stand below.",
    ),
    "sure queries": Plural(
        "One odd entry in the records waits for a check.",
        "{n} odd entries in the records wait for a check.",
    ),
    # what it cost
    "advisor cost survivor": "For one plant alive, in {currency}: {list}.",
    "advisor cost kg": "For one kg, in {currency}: {list}.",
    "advisor cost items only": "Only things bought are counted, not work.",
    "advisor cost no things": "Only work and travel are counted, not things bought.",
    # who should not rely on it
    "limits one": (
        "This is one place and one season. Do not rely on it for other soil, other plants, or "
        "a wetter or drier year."
    ),
    "limits bench": (
        "This is one bench. Do not rely on it for cord of another make, dirty or salty water, "
        "or a whole season outdoors."
    ),
    "limits site": "The soil was {soil}.",
    "limits survivors": "Sizes are those of the plants that lived.",
    "limits not random": "The plots were not laid out by chance.",
    # what would tell more
    "more blocks": "For {response}, {comparison}: about {blocks} blocks would settle it.",
    "more of one fate": (
        "Where all live, or all die, no number of blocks can be named. A harder or milder "
        "season would tell more."
    ),
    "more blocks below": (
        "More blocks would narrow the ranges. Each comparison below says how many."
    ),
    "more runs below": (
        "More runs would narrow the ranges. Each comparison below says how many."
    ),
    "more pilot": (
        "A trial that sets ways of watering against each other. The differences between these "
        "plots say how many blocks it needs."
    ),
    "more seasons": "A second season at another place would tell the most.",
    "more bench": "New coils, more runs, and a season in the field would tell the most.",
}
