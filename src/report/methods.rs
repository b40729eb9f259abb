//! What the numbers of a record mean and where their definitions come from;
//! those of curvature stand in [`crate::curvature::CURVATURE_METHODS`].

/// The other methods a record uses: name, what is measured, source.
pub const OTHER_METHODS: [(&str, &str, &str); 7] = [
    (
        "Curve by curve",
        "S-shaped where two curves of opposite sign exceed the threshold",
        "our own rule, after Cunningham and Senia 1992",
    ),
    (
        "Working length, additive",
        "set length + tip to apex − allowance (1.0, 1.5, 2.0 mm)",
        "Ingle's steps, Weine's subtraction, as taught",
    ),
    (
        "Working length, proportion",
        "true instrument × tooth on film / instrument on film − allowance",
        "Grossman's proportion, as taught",
    ),
    (
        "Magnification",
        "apparent mm at the detector / true mm; SID / SOD",
        "DICOM PS3.3 C.8.7.6",
    ),
    (
        "Published tooth lengths",
        "a range to check the scale by",
        "Woelfel's tables of dental anatomy",
    ),
    (
        "Uncertainty",
        "U covers 95 %, rounded to its place",
        "JCGM 100:2008, 7.2.6, and JCGM 101:2008",
    ),
    (
        "Case difficulty",
        "worst curve's Schneider angle: 10–30° moderate, above 30° or S-shaped high",
        "AAE case difficulty assessment form, 2022",
    ),
];
