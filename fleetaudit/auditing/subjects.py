"""Which checks speak about the wash of a bed, and so depend on vessel, bed, water and restrictor alone."""

ABOUT_THE_WASH = frozenset(
    {
        "restrictor-too-small",
        "restrictor-too-large",
        "restrictor-borderline",
        "restrictor-not-stocked",
        "season-conflict",
        "freeboard-too-small",
        "bed-too-shallow",
        "layers-mismatched",
        "data-implausible",
    }
)
