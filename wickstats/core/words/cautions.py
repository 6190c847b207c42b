"""Safety cautions; each defers to local codes and to licensed or trained people.

Common practice, no single source. Printed where the step is.
"""

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
        "Label every tank, tap and bottle that is not drinking water. Gray or reclaimed water "
        "may need a permit."
    ),
    "caution heat": (
        "Field work in heat or alone: water, rest, shade, a check-in by another person, and a "
        "plan for places without a phone signal. Confusion in heat is an emergency."
    ),
    "caution hauling": (
        "A liter weighs a kilogram and a full drum a fifth of a ton: strap and chock loads, "
        "and keep to axle limits."
    ),
    "caution open water": (
        "Open tanks, sunken pots and pits need lids and an escape ramp for children, stock and "
        "wildlife. Nobody enters a tank. Screen still water against mosquitoes, and do not "
        "spray stagnant water."
    ),
    "caution tools": (
        "Cutting, drilling, hot knives, glues and solvents: eye protection, open air, no "
        "flame, and a protected supply outdoors. Electrical work above extra-low voltage is "
        "for licensed people."
    ),
    "caution chemicals": (
        "Fertilizer and chemicals in a reservoir only as their label allows for that use."
    ),
    "caution nature": (
        "Ask the land's holder, and survey for protected or invasive plants, burrows and "
        "cultural sites before you dig or bring in stock. Stop where remains are found."
    ),
}
