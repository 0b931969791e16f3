"""The bibliography: source key -> full reference, with what was and was not seen of it.

A test holds that each key used by a figure or a material stands here, and that each key here is used.
"""

SOURCES: dict[str, str] = {
    "our-judgement": "Our judgement; no publication gives this figure.",
    "common-practice": "Common practice of the trade; no source.",
    "ashrae-fundamentals-2017": (
        "ASHRAE Handbook Fundamentals 2017, chapter 1 Psychrometrics, as implemented by PsychroLib."
    ),
    "iso-6946": "ISO 6946:2017, thermal resistance of building components; read in secondary texts and from memory.",
    "iso-13789": "ISO 13789:2017, table of convective coefficients; read as quoted elsewhere.",
    "codata-2018": "CODATA recommended values of the fundamental physical constants, 2018.",
    "scot-u-values": "Scottish Government, reduced-data assessment: default U-values of existing walls (notes and tables).",
    "li-2015": "Li et al. 2015, measured U-values of solid walls; read in a secondary article.",
    "hukka-viitanen-1999": (
        "Hukka & Viitanen 1999, A mathematical model of mould growth on wooden material, Wood Science and Technology 33, "
        "475-485; equations compared in several published copies, the paper itself seen as its abstract."
    ),
    "ojanen-2010": (
        "Ojanen, Viitanen et al. 2010, Mold growth modeling of building structures using sensitivity classes of materials, "
        "Buildings XI; class table compared in two published copies, the paper itself not seen."
    ),
    "en-15757": (
        "EN 15757:2010, Specifications for temperature and relative humidity to limit climate-induced mechanical damage in "
        "organic hygroscopic materials; not seen, as reported in Sensors 16 (2016) 1291, Sensors 21 (2021) 7754 and "
        "Heritage Science 11 (2023) s40494-023-00888-6, details of the percentile rule from memory."
    ),
}
