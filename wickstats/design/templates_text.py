"""The three commented trial files of ``wickstats new``. Leans on nothing."""

_HEAD = """\
# A trial of ways of watering. Lines that begin with # are remarks; delete what you
# do not need. Then run: wickstats check trial.yaml
format: 1

trial:
  id: TRIAL-ID                  # letters, digits and hyphens
"""

FIELD = (
    _HEAD
    + """\
  title: Ways of watering young plants
  question: "Does a wick reservoir keep more plants alive than hand watering?"
  place: field
  season:
    start: 2026-03-15
    end: 2026-10-15
  people:
    designed_by: your name

# What is compared. One level is the reference that the others are compared with.
factors:
  watering:
    - name: hand watering
      reference: true
      detail: 2 L a plant each week
    - name: capillary wick
    - name: buried clay pot

# Plots are laid out in blocks: plots that are alike stand in one block, and every
# block holds each way of watering once, in a random order. Other types: completely
# randomized, Latin square, split-plot, strip-plot, incomplete block, row-column.
design:
  type: randomized complete block
  blocks: 6
  plants_per_plot: 8
  blocked_by: distance down the slope
  layout: layout.csv            # written by: wickstats randomize trial.yaml
  drawn: here                   # here, elsewhere, or not at random
  # A treatment whose reservoir feeds several plots gets so many plots in every block;
  # together they are one unit:
  # plots_per_reservoir:
  #   capillary wick: 2

# The season's tables. Empty ones with the right heads are beside this file.
records:
  plants: plants.csv
  visits: visits.csv
  measurements: measurements.csv
  water: water.csv
  events: events.csv

responses:
  - name: survival
    kind: survival
    at: [2026-07-15, 2026-10-15]   # the last date carries the verdict
    better: more
  - name: height
    kind: growth
    column: height_cm
    measured_in: cm
    better: more

# Write the plan before planting: it is sealed when the layout is drawn.
plan:
  primary: survival
  secondary: [height]
  comparisons:
    - factor: watering
      compare: each with the reference
  # the smallest difference that you would care about
  matters:
    survival:
      difference: 0.10          # ten more alive of 100 planted
    height:
      ratio: 1.15               # 15 % taller

water:
  planned_l:                    # liters a plot and season; 0 where none is given
    hand watering: 480
    capillary wick: 240
    buried clay pot: 300

# What you expect, for: wickstats power trial.yaml, wickstats rehearse trial.yaml
power:
  target: 0.80
  assume:
    survival:
      alive_at_end:
        hand watering: 0.60
        capillary wick: 0.80
        buried clay pot: 0.75
      plot_correlation: 0.1
    height:
      mean:
        hand watering: 45
        capillary wick: 54
        buried clay pot: 50
      plot_cv: 0.10
      plant_cv: 0.25
"""
)

GARDEN = (
    _HEAD
    + """\
  title: Ways of watering vegetables
  question: "Which way of watering gives the most fruit for each liter?"
  place: field
  season:
    start: 2026-05-10
    end: 2026-09-30

# What is compared. One level is the reference that the others are compared with.
factors:
  watering:
    - name: hand watering
      reference: true
    - name: drip
    - name: capillary wick

# Every block (a bed, a row) holds each way of watering, in a random order.
design:
  type: randomized complete block
  blocks: 5
  plants_per_plot: 4
  blocked_by: distance from the hedge
  layout: layout.csv            # written by: wickstats randomize trial.yaml
  drawn: here
  # one bucket feeds two neighboring plots of each block: together they are one unit
  plots_per_reservoir:
    capillary wick: 2

records:
  picks: picks.csv
  water: water.csv
  events: events.csv

responses:
  - name: fruit mass
    kind: yield
    column: marketable_kg
    better: more
  - name: fruit per liter
    kind: yield per liter
    yield: fruit mass
    water: delivered            # planned, applied or delivered
    better: more
  - name: water used
    kind: water used
    water: delivered
    better: less

# Write the plan before planting: it is sealed when the layout is drawn.
plan:
  primary: fruit per liter
  secondary: [fruit mass, water used]
  comparisons:
    - factor: watering
      compare: each with the reference
  matters:
    fruit per liter:
      ratio: 1.25
    fruit mass:
      ratio: 1.20

water:
  planned_l:                    # liters a plot and season
    hand watering: 300
    drip: 210
    capillary wick: 130

# What you expect, for: wickstats power trial.yaml
power:
  target: 0.80
  assume:
    fruit mass:
      mean:
        hand watering: 3.5
        drip: 3.5
        capillary wick: 4.2
      plot_cv: 0.12
    # fruit per liter follows from fruit mass and these liters
    fruit per liter:
      liters:                   # a plot and season; left out: those planned under water
        hand watering: 300
        drip: 210
        capillary wick: 130
      liters_cv: 0.10           # how much the liters of equal plots differ
"""
)

BENCH = (
    _HEAD
    + """\
  title: Two cords as wicks, washed and unwashed
  question: "Which cord lifts and carries more water, and does washing help?"
  place: bench

# What belongs to the cord itself, such as its material or diameter, is applied to the
# coil: pieces of one coil are no replicates of a cord, so buy two coils or more of each.
# Washing, length, head, venting and the like are done to each piece cut from a coil.
factors:
  cord:
    applied_to: coil
    levels:
      - name: cotton
        reference: true
      - name: polyester
  washing:
    applied_to: piece
    levels:
      - name: unwashed
        reference: true
      - name: washed

# A block is a day or a run. Every run holds a piece of every coil for each treatment of
# pieces, in a random order. (Without a factor of coils: type: randomized complete block.)
design:
  type: split-plot
  blocks: 4                     # runs
  replicates: 3                 # coils of each cord
  blocked_by: run
  layout: layout.csv            # written by: wickstats randomize trial.yaml
  drawn: here
  evaporation_controls: 1       # cups without a cord in every run, written as plot control

# One row a reading: run, piece (plot), minutes from the start, and the height of the wet
# front or the volume so far. Write reached_top: yes where the front stood at the top.
records:
  readings: readings.csv

responses:
  - name: rise
    kind: rise
    measure: height at 60 min   # or: early slope, plateau
    top_mm: 200                 # the top of the piece: water cannot rise higher
    better: more
  - name: flow
    kind: flow                  # slope of volume over time, less evaporation
    temperature: to 20 degC     # by the viscosity of water; needs temperature_c
    scale: log
    better: more

plan:
  primary: rise
  secondary: [flow]
  comparisons:
    - factor: cord
      compare: each with the reference
    - factor: washing
      compare: each with the reference
  matters:
    rise:
      difference: 10            # mm
    flow:
      ratio: 1.25

# What you expect, for: wickstats power trial.yaml, wickstats rehearse trial.yaml
power:
  target: 0.80
  assume:
    rise:                       # mm at 60 minutes
      mean:
        cotton x unwashed: 70
        cotton x washed: 95
        polyester x unwashed: 90
        polyester x washed: 100
      plot_cv: 0.08             # pieces of one coil
      whole_plot_cv: 0.05       # coils of one cord
    flow:                       # mL an hour
      mean:
        cotton x unwashed: 8
        cotton x washed: 12
        polyester x unwashed: 10
        polyester x washed: 12
      plot_cv: 0.15
      whole_plot_cv: 0.10
"""
)
