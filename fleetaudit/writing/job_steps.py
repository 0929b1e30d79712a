"""The work at a unit, step by step, as crews commonly do it."""

from __future__ import annotations

STANDING = "Common practice, no source. The maker's sheet and local code go before any of it."

STEPS = (
    "Isolate the unit at the bypass, switch off its power and let the pressure out before anything "
    "is opened.",
    "Compare inlet and outlet with the arrows on the body. Swapped connections are a common "
    "mistake: the bed then washes "
    "the wrong way and what it holds goes downstream.",
    "Read the rating on the restrictor that is in there, and write it down before it is thrown away.",
    "Clean every seal that was opened and grease it with a lubricant approved for drinking water; "
    "no petroleum jelly.",
    "Seat the new restrictor the right way round, with its marking where it can be read.",
    "Start threads straight by hand; then tighten as the maker's sheet says and no further.",
    "Write the fitted flow and the date on the label of the unit.",
    "Where media are changed: wet the dust, lift with two people, fill with the riser plugged, soak "
    "as long as the medium asks.",
    "Measure the depth of the settled bed and the freeboard above it.",
    "Open the water slowly, let the air out, and stay with the first backwash until it runs clear "
    "and no media come along.",
    "Measure the drain flow with bucket and watch; it should lie in the range printed on this sheet.",
)
