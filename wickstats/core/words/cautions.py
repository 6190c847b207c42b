"""Safety cautions; each defers to local codes and to licensed or trained people.

Common practice, no single source. Printed where the step is: ``STEPS`` lists what goes with
each, and every list ends by deferring.
"""

# step of the work -> keys, each said as "caution KEY"
STEPS: dict[str, tuple[str, ...]] = {
    "supply": ("backflow", "open water", "hauling", "height", "water quality", "defer"),
    "bench": ("tools", "glue", "electricity", "chemicals", "water quality", "defer"),
    "laying out": ("buried services", "nature", "machines", "fire", "animals", "heat", "defer"),
    "building": ("tools", "glue", "backflow", "height", "electricity", "open water", "defer"),
    "refilling": (
        "hauling",
        "height",
        "water quality",
        "chemicals",
        "heat",
        "animals",
        "defer",
    ),
    "visiting": ("heat", "animals", "fire", "open water", "defer"),
    "report": (
        "buried services",
        "backflow",
        "water quality",
        "heat",
        "hauling",
        "height",
        "open water",
        "tools",
        "glue",
        "electricity",
        "machines",
        "chemicals",
        "animals",
        "fire",
        "nature",
        "defer",
    ),
}

ENGLISH = {
    "caution title": "Before anybody acts on this",
    "caution defer": (
        "Follow local law and code in all of these, and use licensed or trained people where "
        "they are required. No list here makes a step safe."
    ),
    "caution buried services": (
        "Before you dig, drive stakes or set rods, ask the local service that marks buried "
        "lines, every time. Private lines are not marked. Dig by hand near marks."
    ),
    "caution backflow": (
        "Any link to drinking water needs an approved backflow assembly or an air gap, tested"
        " by a certified person; all the more where fertilizer is injected."
    ),
    "caution water quality": (
        "Label every tank, tap and bottle that is not drinking water, never use bottles for "
        "food, and carry drinking water apart. Gray or reclaimed water may need a permit."
    ),
    "caution heat": (
        "Field work in heat or alone: water, rest, shade, days that build up, a check-in by "
        "another person, and a plan for places without a phone signal. Confusion in heat is an emergency."
    ),
    "caution hauling": (
        "A liter weighs a kilogram and a full drum a fifth of a ton: strap and chock loads, "
        "keep to axle limits, and lift with two."
    ),
    "caution open water": (
        "Open tanks, sunken pots and pits need lids and an escape ramp for children, stock and "
        "wildlife. Nobody enters a tank, and no trench stays unsupported. Screen and shade "
        "still water against mosquitoes and algae, empty it between seasons, and do not spray "
        "stagnant water."
    ),
    "caution tools": (
        "Cutting, drilling and hot knives: eye protection, the work clamped down, fumes of "
        "melted cord kept out of the lungs, and a protected supply outdoors."
    ),
    "caution glue": (
        "Glues, solvents and sealants: read the label and the safety sheet; open air, gloves, "
        "no flame; let them cure before water touches them."
    ),
    "caution height": (
        "A raised reservoir is a load overhead: a stand that carries the full weight, fastened "
        "against tipping; a ladder on firm ground with somebody at its foot; never climb with "
        "a full can."
    ),
    "caution electricity": (
        "Pumps and solar sets: extra-low voltage where possible. Work above that is for "
        "licensed people."
    ),
    "caution machines": (
        "Tractors, post drivers and hydraulics: trained drivers, guards and roll-over frames "
        "in place, nobody where something can pinch, and no hand that feels for a leak."
    ),
    "caution animals": (
        "Snakes, spiders, wasps, ticks and thorns: gloves, a look before you reach into a "
        "shelter or a box, and a plan for first aid."
    ),
    "caution fire": (
        "Sparks and hot exhausts in dry grass start fires: keep to the rules of the day, park "
        "on bare ground, and leave gates as you found them."
    ),
    "caution chemicals": (
        "Fertilizer and chemicals in a reservoir only as their label allows for that use, never "
        "on a link to drinking water; mix outside, keep records, lock them away."
    ),
    "caution nature": (
        "Ask the land's holder, and survey for protected or invasive plants, burrows and "
        "cultural sites before you dig or bring in stock. Stop where remains are found."
    ),
}


def cautions_of(step: str) -> tuple[str, ...]:
    """Sentences of a step, the last of which defers to local law and trained people."""
    from wickstats.core.words import say  # the catalog is made of this module too

    return tuple(say(f"caution {name}") for name in STEPS[step])
