"""Papers for the field: map, sheets, labels, checklist of planting day, sealed key.

Rules of sheets, inks and labels: common practice, no source.
"""

ENGLISH = {
    "papers changed since": "a file that was changed since",
    "papers not ours": "a file of somebody else",
    # names of papers
    "paper index": "Papers for the field",
    "paper map": "Field map",
    "paper bench map": "Map of the bench",
    "paper labels plots": "Labels of plots",
    "paper labels pieces": "Labels of pieces",
    "paper labels plants": "Labels of plants",
    "paper planting": "Checklist of planting day",
    "paper bench day": "Checklist of a day at the bench",
    "paper key": "Sealed key: keep closed until the season's records are in",
    "paper plants": "Planting sheet",
    "paper visits": "Visit sheet",
    "paper lifetimes": "Sheet of days lived",
    "paper measurements": "Measuring sheet",
    "paper water": "Water and refill sheet",
    "paper picks": "Picking sheet",
    "paper events": "Sheet of events",
    "paper weather": "Weather sheet",
    "paper readings": "Bench sheet",
    "paper page of": "{paper}: {trial}",
    # the first page
    "paper what": "What is here",
    "paper file": "File",
    "paper for": "What it is for",
    "paper print": (
        "Print at full size (100 %) on A4 or letter, in black. Paper for wet hands and a soft "
        "pencil outlast office paper and ink."
    ),
    "paper fill in": "From paper into the computer",
    "paper workbooks": (
        "Type what was written into the workbooks of the folder fill-in, one row a row. Cells "
        "that name plots and plants are locked, without a password; dates and words are held "
        "to what can be. Copy the file beside the trial file before you type, and let one "
        "person keep it. Rows that nobody filled in yet do no harm."
    ),
    "paper lines": "So that check and analyze read these workbooks, the trial file says:",
    "paper plain": (
        "The folder also holds the same rows as plain text under the names that the trial file "
        "has now ({files}). Never copy one over records that exist."
    ),
    "paper no plain": (
        "{files} was not prepared as plain text: an identifier in it would be taken for a "
        "formula. Use the workbook."
    ),
    "paper crosswise": (
        "The table {table} is kept crosswise in the trial file; here it is prepared with one "
        "row a row of the field."
    ),
    "paper rounds": "{file}: {rounds}, {rows} rows in walking order, and {spare} spare rows.",
    "paper rounds capped": (
        "{file} would hold more than {most} rows with the planned number of visits: it holds "
        "{rounds}."
    ),
    "paper file for map": "where every plot lies, and in which order to walk",
    "paper file for svg": "the same map as a picture alone",
    "paper file for labels plots": "two for each plot, one on its stake and one apart from it",
    "paper file for labels plants": "one for each plant",
    "paper file for planting": "what to do before and while planting, with its cautions",
    "paper file for key": "which plot has which treatment: keep it closed",
    "paper file for sheet": "to print, one for each time ({columns})",
    "paper file for workbook": "to type into: {tables}",
    "paper file for plain": "the same rows as plain text: {tables}",
    # map
    "paper map alternative": (
        "{plots} in {rows} and {columns}{panels}; walking order starts at plot {first} and "
        "ends at plot {last}. The table below lists every plot."
    ),
    "paper map panels": " of each of {n} parts",
    "paper map no places": (
        "Rows and columns of the plots are not known: every block is drawn as a strip, in the "
        "order of {order}. Draw how the strips lie on the ground."
    ),
    "paper map by table": "the layout's table",
    "paper map by names": "the plots' names",
    "paper map apart": (
        "How the parts of the map lie beside each other is not known: mark it on the paper."
    ),
    "paper north": "N",
    "paper north none": "north: not stated, draw it here",
    "paper slope": "down",
    "paper slope none": "slope: not stated, draw downhill here",
    "paper scale": "{meters} m",
    "paper no scale": "not to scale: sizes of plots are not stated",
    "paper odd scale": "not to scale: plots are {width} m along a row, {length} m across",
    "paper scale note": "Plots are to scale; ways between them are not drawn.",
    "paper guards": (
        "Inside each plot the dashed line parts the guard plants ({n} a plot) from the plants "
        "that are looked at. Guards are watered like the rest and never scored, weighed or "
        "counted."
    ),
    "paper blocks run": "Blocks run {how}.",
    "paper blocked by": "Blocks differ by {what}.",
    "paper walk": (
        "Walk along the dotted line, block by block, in the order of its numbers. All sheets "
        "follow it."
    ),
    "paper step": "Step",
    "paper plot": "Plot",
    "paper piece": "Piece",
    "paper block": "Block",
    "paper run": "Run",
    "paper whole plot": "Whole plot",
    "paper row": "Row",
    "paper column": "Column",
    "paper reservoir": "Reservoir",
    "paper treatment": "Treatment",
    "paper plants n": "Plants",
    "paper plot list": "Plots in walking order",
    "paper map letters": "Letters on the map",
    "paper letter": "Letter",
    # sheets
    "paper fill sheet": "To fill in",
    "paper date": "Date",
    "paper start": "Start",
    "paper end": "End",
    "paper sky": "Weather",
    "paper who": "Who",
    "paper signature": "Signature",
    "paper sheet of": "Sheet ___ of ___",
    "paper rule blank": (
        "Blank means: nothing was seen or measured. Zero means: looked at, and there was none. "
        "Never leave a zero blank, and never write “as last time”."
    ),
    "paper rule dates": "Write dates as year-month-day: {example}.",
    "paper rule words": "{head}: {words}.",
    "paper rule unit": "{head} in {unit}.",
    "paper rule times": "{head}: each counts {times} {unit}.",
    "paper rule pencil": (
        "Write with a soft pencil. Strike a mistake through once, write the right value beside "
        "it, and put your initials there."
    ),
    "paper rule dead": (
        "Dead only where a scratch of the bark or a look at the root says so; else doubtful. A "
        "plant whose place is empty is not found. A plot where nobody went is not visited."
    ),
    "paper rule lifetimes": (
        "Days count from the day of planting, which is day 0. Dead only where a scratch of the "
        "bark or a look at the root says so; leave the day of death blank for a plant that was "
        "never seen dead."
    ),
    "paper rule ripe": (
        "A plot where nothing was ripe gets its row too. Guards are not picked into it. If a "
        "plot was not picked, say so; if it was forgotten, also."
    ),
    "paper rule refill": (
        "Level before, water given, level after: read the mark at eye height, in that order. "
        "Write cans as cans, and which can. Note at once what was spilled."
    ),
    "paper rule event": (
        "Write down what happened on the day that it is seen: animals, leaks, theft, a valve "
        "left open, water given to the wrong plot. Equipment that fails belongs to the method."
    ),
    "paper rule replaced": (
        "A replacement is a new plant with a number of its own, never the old one's. The death "
        "of the first stays written."
    ),
    "paper rule planting": (
        "Every plant gets its day and its size at planting, also those that look weak. One "
        "crew plants a whole block."
    ),
    "paper rule measure": (
        "The same mark on the plant and the same person or day for a block. A dead plant has "
        "no size: leave it blank and note it in the visit sheet."
    ),
    "paper rule bench": (
        "Minutes since the start of the run. Once the front is at the top, write yes under "
        "{head} and the height of the top."
    ),
    "paper unplanned": "Spare rows",
    "paper in block": "Block {block}",
    "paper in run": "Run {run}",
    "paper blind": (
        "The treatments are hidden on this paper. Whoever scores does not open the key and "
        "does not ask."
    ),
    "paper open scorer": (
        "Scoring sheets never name the treatment, so that it is not read off while scoring."
    ),
    "paper water reader": "For whoever waters; not for whoever scores.",
    "paper seal": "Sealed key, SHA-256 {digest}",
    "paper footer": "{trial}; layout {layout}.",
    "paper footer simulated": "SIMULATED: a rehearsal, nothing was grown.",
    "paper footer invented": "Invented for demonstration.",
    # labels
    "paper label advice": (
        "Two labels that do not depend on each other: one on the stake, one on the plant or "
        "buried at the plot's corner. Black on white, printed at 100 %; ink fades in a season, "
        "so repeat the code by pencil or embossing on metal. Fix labels loosely, with room to "
        "grow. The square symbol (QR code, ISO/IEC 18004) holds the same code as the text."
    ),
    "paper label checks": (
        "The last sign of a plot and the last letter of a plant are check signs. In a plot's "
        "code they catch every single wrong sign and every swap of two neighboring signs; in a "
        "plant's number every single wrong digit or letter and every swap of two neighbors. A "
        "plant's code on another plot is caught 12 times in 13. check tells the slip where "
        "the code is typed as it stands on the label."
    ),
    "paper label checks foreign": (
        "The plots' names were given elsewhere and have no check sign. The last letter of a "
        "plant's code catches every single wrong digit or letter of its number and every swap "
        "of two neighbors, and another plot 12 times in 13."
    ),
    "paper label block": "block {block}",
    "paper label run": "run {run}",
    # checklist
    "paper before": "Before the day",
    "paper on day": "On the day",
    "paper after": "Before leaving",
    "paper step layout": "The map and the labels come from the layout that the record seals.",
    "paper step permission": "The landholder agreed, and knows the day.",
    "paper step lines": "Buried lines are marked, public and private ones, and the marks seen.",
    "paper step stock": (
        "Plants of one lot, graded; runts are put aside before any plot gets its plants."
    ),
    "paper step gear": "Sheets, two sets of labels, pencils, tape, scale, cans of one size.",
    "paper step cans": "Cans and meters are checked against a known volume, and the size noted.",
    "paper step water": "Every tank, tap and bottle is labeled “not drinking water”.",
    "paper step people": "Somebody elsewhere knows who is out, where, and when they come back.",
    "paper step stakes": "Stakes stand by the map; two people read each plot's code aloud.",
    "paper step crew": (
        "One crew works through a whole block before the next; a block is also one day."
    ),
    "paper step treat": "What each plot gets is read off the map, plot by plot, and ticked.",
    "paper step treat blind": (
        "One person who will never score opens the key, sets up what each plot gets, and "
        "closes it again."
    ),
    "paper step plant": "Each plant's day and size at planting stand on the planting sheet.",
    "paper step guards": "Guard plants are in and carry no label.",
    "paper step first water": "The first water of every plot is measured and written down.",
    "paper step reservoirs": "Lids are on, shut and fixed; overflow and escape ways are open.",
    "paper step change": "Whatever was done otherwise than drawn is written on the event sheet.",
    "paper step photo": "The filled sheets are photographed before anybody drives off.",
    "paper step walk": "Somebody walked the whole map once more, code by code.",
    "paper step pieces": "Pieces are cut, washed or not as the trial says, and labeled.",
    "paper step level": "Heads and lengths are measured with one scale; stands do not wobble.",
    "paper step run": "Pieces of a run start in the order of the map, each at its minute.",
    "paper step temperature": "Water temperature is read at the start and the end.",
    "paper cautions": "Cautions",
    # key
    "paper key closed": (
        "Give this to one person who neither scores nor weighs. Open it to set up the plots "
        "and to water them, and to others only when the records are complete."
    ),
    "paper key digest": (
        "SHA-256 of key.csv: {digest}. The same number stands on every paper: who opens the "
        "key can see that it was not changed."
    ),
    # command
    "papers written": "{papers} and {books} for {plots}",
    "papers hidden": (
        "Treatments are hidden on all papers but those in the folder key; SHA-256 {digest}. "
        "Keep that folder from whoever scores."
    ),
    "papers record": "The digest of the key was added to {record}.",
}
