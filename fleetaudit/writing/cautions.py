"""The usual cautions, said in every report."""

CAUTIONS = (
    "This report advises; it does not replace local codes, the equipment maker's sheet or licensed practice. "
    "Where they say otherwise, they hold.",
    "Isolate the unit, shut off the water and relieve the pressure before anything is opened.",
    "Valves and pumps run on mains power: disconnect before work, and leave wiring to licensed hands.",
    "Vessels and bags of media are heavy: two people or lifting gear, never a twist of the back.",
    "Media dust harms lungs and eyes: mask, goggles and gloves, and wet the medium before it is poured.",
    "Chemicals for cleaning, regeneration and disinfection burn: read their safety sheets first.",
    "Spent media may hold what they took from the water, arsenic or uranium among it: "
    "handle and dispose of them as local rules ask.",
    "Where a filter protects somebody's health, have the water tested after the work and before it is drunk.",
    "Media are disinfected and rinsed after loading; the first water goes to drain.",
)
