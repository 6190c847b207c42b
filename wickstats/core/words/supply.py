"""Supply: which route a day took and why, demand against supply, reservoirs and visits."""

ENGLISH = {
    "supply why temperatures": "only temperatures were measured",
    "supply why measured": "more than temperatures was measured",
    "supply vapor humidity": "vapor pressure from the lowest and highest humidity",
    "supply vapor highest humidity": "vapor pressure from the highest humidity",
    "supply vapor lowest temperature": "the lowest temperature taken as dew point",
    "supply sun hours of sun": "radiation from hours of sun",
    "supply sun difference of temperatures": (
        "radiation from the difference of temperatures, as away from coasts"
    ),
    "supply wind assumed": "wind of 2 m/s assumed",
    "supply wind taken as at 2 m": "wind taken as measured at 2 m",
    "supply ground unknown": "heat into the ground taken as none: no row of the month before",
    "supply no sun": "the sun does not rise on this day: nothing can be reckoned",
    "supply needs latitude": "the latitude of the site",
    "supply needs elevation_m": "the elevation of the site in meters",
    "supply needs crop_coefficient": "a crop coefficient",
    "supply needs wetted_m2": "the area that one plant wets and shades, in square meters",
    "supply not reckoned": "Demand was not reckoned: the trial file lacks {what}.",
    "supply no weather": "Demand was not reckoned: there is no table of weather.",
    "supply demand note": (
        "Demand of a plant is the reference evapotranspiration times the crop coefficient "
        "{crop} times the {area} m2 that one plant wets and shades (wetted_m2 is per plant); "
        "1 mm on 1 m2 is 1 L. Rain on that area is told beside and not taken off."
    ),
    "supply days missing": (
        "{n} of {total} days of the season have no weather; in sums of weeks and of the season "
        "they count as the mean of the other days."
    ),
    "supply place rounded": (
        "Reckoned at the latitude to 0.1 degree and the elevation to 10 m, as the site is "
        "shared rounded."
    ),
    "supply place withheld": (
        "What plants need was not reckoned from the weather, since that would tell the "
        "latitude, and the site is withheld. The command supply shows it on your own screen; "
        "share the site rounded to have it in the report."
    ),
    "supply plants unknown": (
        "Where the number of plants of a plot is not known, its water is not told by plant."
    ),
    "supply any plot": "one plot",
    "supply cv seen": "as {n} reservoirs of this trial differed",
    "supply cv planned": "as the plan assumes (liters_cv)",
    "supply cv assumed": "assumed: common practice, no source",
    "supply visits assumed": "No visits_every_d in the trial file: {days} days are taken.",
    "supply emptied": (
        "Some reservoirs were found empty: what left them is then less than their plants would "
        "have drawn, and the loss seen is too low."
    ),
    "supply chance note": (
        "Chances come from 10,000 simulated visits, each with a wick and a stretch of the "
        "season drawn at random; their Monte Carlo error stands in brackets. Needed volumes "
        "hold for the thirstiest stretch and the wick at the 95 % quantile, the unusable volume "
        "included. Demand, or what a wick was seen to give: the larger of the two is the safer "
        "size (common practice, no source)."
    ),
    "supply basis demand": "its plants' demand",
    "supply basis loss seen": "what was seen to leave reservoirs",
    "supply no visit": "none of 10,000 simulated visits",
    "supply every visit": "all of 10,000 simulated visits",
    "supply few visits": "fewer than 1 of 100 visits",
    "supply most visits": "more than 99 of 100 visits",
    "supply visits of 100": "{n} of 100 visits",
    "supply dry sentence": (
        "{treatment}: a {volume} L reservoir, visited every {days} days, runs dry before the "
        "next visit in {visits} (by {basis})."
    ),
    "supply need sentence": (
        "{treatment}: {plants} plants on one reservoir take {rate} a day in the thirstiest "
        "{days} days ({upper} where most is drawn): {volume} to the next visit, {reserve} "
        "if one visit may be missed (by {basis})."
    ),
    "supply steps title": "Reference evapotranspiration, step by step",
    "supply step tmin_c": "lowest temperature, degC",
    "supply step tmax_c": "highest temperature, degC",
    "supply step t_mean_c": "mean temperature, degC",
    "supply step pressure_kpa": "air pressure, kPa",
    "supply step gamma_kpa_c": "psychrometric constant, kPa/degC",
    "supply step slope_kpa_c": "slope of the vapor pressure curve, kPa/degC",
    "supply step es_kpa": "saturation vapor pressure, kPa",
    "supply step ea_kpa": "actual vapor pressure, kPa",
    "supply step vpd_kpa": "vapor pressure deficit, kPa",
    "supply step u2_m_s": "wind at 2 m, m/s",
    "supply step ra": "radiation above the air (Ra), MJ/m2",
    "supply step day_length_h": "length of the day (N), h",
    "supply step rs": "solar radiation (Rs), MJ/m2",
    "supply step rso": "solar radiation of a clear sky (Rso), MJ/m2",
    "supply step rns": "net shortwave radiation (Rns), MJ/m2",
    "supply step rnl": "net longwave radiation (Rnl), MJ/m2",
    "supply step rn": "net radiation (Rn), MJ/m2",
    "supply step g": "heat into the ground (G), MJ/m2",
    "supply step et0_penman_mm": "ET0 by Penman-Monteith, mm/d",
    "supply step et0_hargreaves_mm": "ET0 by Hargreaves, mm/d",
    "supply step et0_mm": "ET0 that is used, mm/d",
    "supply route": "{date}: {route}; {why}",
    "supply more days": "{n} more rows of weather: --days shows all of them.",
    "supply table title": "Demand and supply, liters a plant",
    "supply head from": "Week from",
    "supply head treatment": "Treatment",
    "supply head et0_mm": "ET0, mm",
    "supply head rain_l": "Rain",
    "supply head demand_l": "Demand",
    "supply head planned_l": "Planned",
    "supply head delivered_l": "Delivered",
    "supply head share": "Of demand",
    "supply whole season": "season",
    "supply chances title": (
        "{treatment}: chance of running dry before the next visit, % (by {basis}; wicks differ "
        "by {cv}, {why})"
    ),
    "supply head volume": "Volume, L",
    "supply every": "every {days} d",
    "supply row needed": "needed, L",
    "supply row reserve": "with a missed visit, L",
    "supply nothing found": "no table of weather, and no reservoir whose levels were read",
    "supply no row found": "a table of weather without a row",
    "supply no row fix": "fill it in: date, tmin_c and tmax_c of every day at least",
    "supply nothing expected": (
        "a table of weather under records, or a table of water with level_before and "
        "level_after of reservoirs"
    ),
    "supply nothing fix": "add weather: {{file: weather.csv}} under records",
    "supply lacks found": "no {what}",
    "supply lacks fix": "add {example} under {parent}",
    "supply page title": "What plants needed, and what they got",
    "supply page needs": (
        "Over the season a plant needed {demand} L (reference evapotranspiration {et0} mm)."
    ),
    "supply page arm": "{treatment}: {given} L {which}, {share} of that",
    "supply picture title": "Demand and supply of a plant, week by week",
    "supply picture words": (
        "Liters a plant and week: demand as the thick line, what each treatment was given as points. "
        "Over the season: {list}."
    ),
    "supply picture plain": "Liters a plant and week that plants needed.",
    "supply axis week": "Week from",
    "supply axis liters": "Liters a plant and week",
    "supply line demand": "demand",
    "supply days folded": "Reference evapotranspiration of every day, with every step",
    "supply reservoirs title": "Reservoirs and visits",
    "supply planned word": "planned",
    "supply delivered word": "delivered",
    "head step tmin_c": "Tmin, \N{DEGREE SIGN}C",
    "head step tmax_c": "Tmax, \N{DEGREE SIGN}C",
    "head step es_kpa": "es, kPa",
    "head step ea_kpa": "ea, kPa",
    "head step u2_m_s": "u2, m/s",
    "head step ra": "Ra, MJ/m\N{SUPERSCRIPT TWO}",
    "head step rs": "Rs, MJ/m\N{SUPERSCRIPT TWO}",
    "head step rn": "Rn, MJ/m\N{SUPERSCRIPT TWO}",
    "head step et0_mm": "ET0, mm",
    "head week from": "From",
    "head et0": "ET0, mm",
    "head rain plant": "Rain, L",
    "head demand": "Demand, L",
    "head of demand": "Of demand",
    "head day": "Day",
    "head route": "Route",
    "head volume": "Volume, L",
    "head every": "Every {days} days",
    "supply season caption": "Demand and supply of the season, a plant",
    "supply weeks caption": "Demand and supply week by week, a plant",
    "supply weeks folded": "Demand and supply week by week",
    "supply days caption": "Reference evapotranspiration by day",
    "supply days note": (
        "Allen, Pereira, Raes & Smith (1998), FAO Irrigation and Drainage Paper 56. Every other "
        "step stands in supply-days.csv."
    ),
    "site in inputs": (
        "The site is shared {share}, in every file of this folder: the trial file under inputs/ "
        "was archived with its site {share} and without the comments in its entry, all else as "
        "it was read. Titles, notes and other comments stay as they were written; look whether "
        "one of them tells the place before you pass the folder on."
    ),
    "site still told": "The exact place can still be read in: {places}.",
    "supply basis bench flow": "its flow at the bench",
    "supply cv bench": "as pieces of one treatment did at the bench, {n} degrees of freedom",
    "supply cv from bench": "as the trial file tells of them at the bench",
    "supply cv wicks": (
        "{why}; {wicks} wicks on one reservoir, each for itself, even out by the root of their "
        "number"
    ),
    "supply wicks sentence": (
        "{treatment}: {wicks} wicks on one reservoir give {rate} a day at the bench ({upper} "
        "if they are fast ones; {found_in}): {volume} to the next visit after {days} days, "
        "{reserve} if one visit may be missed."
    ),
    "supply own wick sentence": (
        "{treatment}: one wick on each reservoir gives {rate} a day at the bench ({upper} "
        "if it is a fast one; {found_in}): {volume} to the next visit after {days} days, "
        "{reserve} if one visit may be missed."
    ),
    "supply days too few": (
        "Only {known} of {total} days of the season have weather that can be used{refused}: "
        "demand over the season is not reckoned, nor of weeks with fewer than half of their "
        "days, and what reservoirs need by demand rests on those days alone. Complete the table of weather, or take a station nearby."
    ),
    "supply days refused": " ({n} rows of the table were not used, see the list of rows)",
    "supply all refused found": "a table of weather of which no row can be used: {n} were set aside",
    "supply all refused fix": ("correct them: wickstats check says what is wrong with each"),
    "supply wick sentence": (
        "{treatment}: one wick gives {rate} a day ({upper} if it is a fast one): {volume} "
        "to the next visit after {days} days, {reserve} if one visit may be missed."
    ),
    "supply bench note": (
        "One wick on a reservoir, with the head and setting of the bench; several wicks take as "
        "many times more. Flow at the bench, day and night: plants may draw less, and a wick "
        "that clogs gives less. The trial file of a garden or field takes such a flow under "
        "water as bench_flow, and sizes its reservoirs by it."
    ),
    "head a day": "L a day",
    "head fast wick": "Fast wick, L a day",
    "supply needs caption": "Liters that a reservoir must hold to the next visit",
    "supply chances folded": "Chance of running dry by volume and interval, of each treatment",
}
