"""The bibliography: source key -> full reference, with what was and was not seen of it.

A test holds that each key used by a figure or a material stands here, and that each key here is used.
"""

STUDIO = "studio"  # the source of what a studio has overruled or added
SOURCES: dict[str, str] = {
    "our-judgement": "Our judgement; no publication gives this figure.",
    "common-practice": "Common practice of the trade; no source.",
    "from-memory": "Commonly told, from memory; no text seen.",
    STUDIO: "The studio's own figure, with its reason in the studio's materials file.",
    "conserving-canvas-2023": (
        "Schwarz, McClure & Coddington (editors), Conserving Canvas, Getty Conservation Institute 2023; the chapters "
        "named were read."
    ),
    "young-ackroyd-2001": (
        "Young & Ackroyd, The mechanical behaviour and environmental response of paintings to three types of lining "
        "treatment, National Gallery Technical Bulletin 22 (2001) 85-104; abstract and what others quote of it read."
    ),
    "gelatine-sorption-2013": "Sorption of moisture in gelatine, Heritage Science 1:14 (2013), table 1; table read.",
    "pinhas-1996": (
        "Pinhas, Blanshard, Derbyshire & Mitchell 1996, on the effect of water on the physical state of "
        "gelatine, Journal "
        "of Thermal Analysis; excerpt read, full title from memory."
    ),
    "zeleznak-hoseney-1987": (
        "Zeleznak & Hoseney 1987, The glass transition in starch, Cereal Chemistry; abstract read."
    ),
    "down-2001": "Down 2001, review of the ageing of ethylene-vinyl-acetate adhesives; excerpt read.",
    "ploeger-2013": "Ploeger, Forster et al. 2013, on heat-seal adhesives, Adhesion Society; abstract read.",
    "residual-solvent-2019": (
        "On residual solvent in resin films, Heritage Science 2019, s40494-019-0283-9; excerpt read."
    ),
    "rothe-panels-1998": (
        "Rothe, in The Structural Conservation of Panel Paintings, Getty 1998, on adhesives over traces of "
        "wax; excerpt read."
    ),
    "lazzari-2024": "Lazzari & Lopez-Moran 2024, on the ageing of polyvinyl-acetate adhesives; abstract read.",
    "polyamide-2007": "A report of 2007 on polyamide welding powder in tear mending; excerpt read, authors not shown.",
    "patching-study": (
        "A study on the application of lining adhesives to canvas reinforcement treatment (patching); abstract read, "
        "authors and year not shown."
    ),
    "ashrae-fundamentals-2017": (
        "ASHRAE Handbook Fundamentals 2017, chapter 1 Psychrometrics; saturation pressure over ice and water by its "
        "equations 5 and 6."
    ),
    "iso-6946": "ISO 6946:2017, thermal resistance of building components; read in secondary texts and from memory.",
    "iso-13789": "ISO 13789:2017, table of convective coefficients; read as quoted elsewhere.",
    "codata-2018": "CODATA recommended values of the fundamental physical constants, 2018.",
    "scot-u-values": "Scottish Government, default U-values of existing walls, notes and tables for reduced data.",
    "li-2015": "Li et al. 2015, measured U-values of solid walls; read in a secondary article.",
    "hukka-viitanen-1999": (
        "Hukka & Viitanen 1999, A mathematical model of mould growth on wooden material, Wood Science and Technology "
        "33, 475-485; equations compared in several published copies, the paper itself seen as its abstract."
    ),
    "ojanen-2010": (
        "Ojanen, Viitanen et al. 2010, Mold growth modeling of building structures using sensitivity classes of "
        "materials, Buildings XI; class table compared in two published copies, the paper itself not seen."
    ),
    "en-15757": (
        "EN 15757:2010, Specifications for temperature and relative humidity to limit climate-induced "
        "mechanical damage "
        "in organic hygroscopic materials; not seen, as reported in Sensors 16 (2016) 1291, Sensors 21 (2021) 7754 and "
        "Heritage Science 11 (2023) s40494-023-00888-6, details of the percentile rule from memory."
    ),
    "greenspan-1977": (
        "Greenspan 1977, Humidity fixed points of binary saturated aqueous solutions, Journal of Research of "
        "the National "
        "Bureau of Standards 81A, 89-96; coefficients as reprinted in two places, the paper itself seen as "
        "its first pages."
    ),
    "zahumensky-2004": (
        "Zahumensky 2004, Guidelines on quality control procedures for data from automatic weather stations, WMO; "
        "its table of limits from memory."
    ),
    "directors-2014": (
        "Declaration of the international institutes for conservation on environmental guidelines, 2014 (IIC and "
        "ICOM-CC), with the museum directors' interim guidelines; read."
    ),
    "michalski-ladder": (
        "Michalski, Canadian Conservation Institute, sensitivity of objects to incorrect humidity; the classes "
        "read, their numbers from memory."
    ),
    "michalski-cci": (
        "Michalski, Canadian Conservation Institute, Agent of deterioration: incorrect temperature; excerpt read."
    ),
    "mecklenburg-1998": (
        "Mecklenburg, Tumosa & Erhardt, in The Structural Conservation of Panel Paintings, Getty 1998, pages "
        "464-483 and 527-541 as cited; excerpts read."
    ),
    "hedley-1988": (
        "Hedley, Relative humidity and the stress/strain response of canvas paintings, Studies in Conservation 33 "
        "(1988) 133-148; abstract read."
    ),
    "berger-russell-1994": (
        "Berger & Russell, Interaction between canvas and paint film in response to environmental changes, Studies "
        "in Conservation 39 (1994) 73-86; abstract read."
    ),
    "padfield-standard": "Padfield, proposal for an environmental standard for collections; read.",
    "padfield-strain": "Padfield, Stress, strain and craquelure, part 7; read.",
    "poznanska-tempera": (
        "Poznanska et al., Mechanical and moisture-related properties of selected dried tempera paints; abstract read."
    ),
    "erlebacher-1992": (
        "Erlebacher et al., The effects of temperature and relative humidity on the mechanical properties of "
        "modern painting materials, MRS Proceedings 1992; abstract read."
    ),
    "memory-coefficients": (
        "Swelling and thermal coefficients of grounds and oil paints as commonly quoted; from memory, no text seen."
    ),
    "michalski-2002": (
        "Michalski, Double the life for each five-degree drop, more than double the life for each halving of "
        "relative humidity, ICOM-CC Rio 2002, volume I, 66-72; temperature part read, formula as quoted in "
        "Martens, TU Eindhoven 2012."
    ),
    "ashrae-museums": (
        "ASHRAE Handbook, HVAC Applications, Museums, galleries, archives and libraries, 2019 and 2023; humidity "
        "read in a table that quotes it, temperatures and outer limits from memory."
    ),
    "australian-2014": (
        "Australian Institute for the Conservation of Cultural Material, interim temperature and humidity "
        "guidelines 2014; read."
    ),
    "australian-2018": (
        "Australian Institute for the Conservation of Cultural Material, environmental guidelines 2018 and 2022; read."
    ),
    "mecklenburg-ranges": (
        "Mecklenburg, Determining the acceptable ranges of relative humidity and temperature in museums and "
        "galleries, part 1; read."
    ),
    "uk-directors-2009": "UK National Museum Directors' Conference, guiding principles 2009; from memory.",
    "uk-indemnity": (
        "UK Government Indemnity Scheme, conditions on environment; from memory, verify the edition in force."
    ),
    "bs-4971": "BS 4971:2017, Conservation and care of archive and library collections; from memory.",
    "en-16893": "EN 16893:2018, Buildings intended for the storage or use of heritage collections; from memory.",
    "old-norm": "The former 50 or 55 ± 5 %, 20 or 21 ± 2 °C, as told in the Australian guidelines; read.",
    "astm-e1049": (
        "ASTM E1049-85, Standard practices for cycle counting in fatigue analysis, section 5.4.4; worked example "
        "read in the tests of a general library."
    ),
    "ashrae-160-2009": (
        "ASHRAE Standard 160-2009, criterion of the 30-day running mean at the surface; as reported in the abstract of "
        "Glass et al., ASTM STP 1599, 2017."
    ),
    "iso-13788": "ISO 13788:2012, clause 5.3, monthly mean humidity at the surface; figures from secondary texts.",
    "snow-1944": "Snow, Crichton & Wright 1944, mould in feeding-stuffs, Annals of Applied Biology, abstract.",
    "wright-1941": "Wright 1941, on the humidity limit of mould in storage, Journal of Agricultural Science; abstract.",
    "michalski-rh": "Michalski, Agent of deterioration: incorrect relative humidity, Canadian Conservation Institute.",
    "kalamees-2006": (
        "Kalamees, Vinha & Kurnitski 2006, Indoor humidity loads and moisture production in lightweight timber-frame "
        "detached houses, 101 houses; design values read, their mean from memory."
    ),
    "rouse-1952": "Rouse, Yih & Humphreys 1952, Gravitational convection from a boundary source, Tellus; from memory.",
    "en-442": "EN 442, Radiators and convectors; rating point of 75/65/20 °C, convective share from memory.",
    "ul-117f": "Practice of fire tests on stoves, a rise of 117 F on combustibles beside; two trade explanations read.",
    "cie-157": (
        "CIE 157:2004, Control of damage to museum objects by optical radiation, also in CEN/TS 16163:2014; contents "
        "read, the yearly doses from memory."
    ),
    "wam-manual": "Western Australian Museum, conservation manual, light and lighting; read.",
    "wood-handbook": (
        "Wood Handbook, USDA Forest Products Laboratory FPL-GTR-282, 2021, equation 4-5 and table 4-2; read. "
        "Coefficient "
        "of change across the grain (chapter 13) from memory."
    ),
    "winkler-2011": (
        "Winkler, Christensen & Tomerlin 2011, Laboratory test report for six dehumidifiers, NREL/TP-5500-52791; "
        "coefficients compared in several published copies that credit it, the report itself not seen."
    ),
    "doe-2016": (
        "US Department of Energy, final rule of 2016 on dehumidifiers, in force from 13 June 2019; "
        "thresholds as told in "
        "a notice of a testing house."
    ),
    "drying-trade": "Labels and pages of the drying trade; read, makers left out.",
    "nist-44": "NIST Handbook 44, appendix C, tables of units; from a table.",
    "gel-1992": "Western Association for Art Conservation newsletter 1992, on silica gel; excerpt read.",
    "low-energy-store": (
        "Larsen & Ryhl-Svendsen, with Padfield and Jensen, on low-energy museum storage buildings; abstracts read."
    ),
    "grot-persily-1986": "Grot & Persily 1986, air exchange of office buildings, ASTM STP 904; abstract read.",
    "mclaren-2005": (
        "McLaren, Null & Quinn 2005, Heat stress from enclosed vehicles, Pediatrics 116; mean rise of 40 F in an hour, "
        "from memory."
    ),
}
