"""The bibliography: source key -> full reference, with what was and was not seen of it.

A test holds that each key used by a figure or a material stands here, that each key here is used, and that nothing is
called published of which nothing was seen.
"""

from envwatch.core.quantities import STUDIO, Seen, Source

TEXT, EXCERPT, ABSTRACT, QUOTED, NOTHING = Seen.TEXT, Seen.EXCERPT, Seen.ABSTRACT, Seen.QUOTED, Seen.NOTHING
SOURCES: dict[str, str] = {
    "our-judgement": "Our judgement; no publication gives this figure.",
    "common-practice": "Common practice of the trade; no source.",
    "from-memory": "Commonly told, from memory; no text seen.",
    STUDIO: "The studio's own figure, with its reason in the studio's materials file.",
    # ------------------------------------------------------------------------------------- linings and adhesives
    "conserving-canvas-2023": Source(
        "Schwarz, McClure & Coddington (editors), Conserving Canvas, Getty Conservation Institute, Los Angeles 2023",
        TEXT, "the chapters named",
    ),
    "young-ackroyd-2001": Source(
        "Young & Ackroyd, The mechanical behaviour and environmental response of paintings to three types of lining "
        "treatment, National Gallery Technical Bulletin 22 (2001) 85-104",
        EXCERPT, "abstract and the section on figures 6a and 6b",
    ),
    "andersen-2014": Source(
        "Andersen, Mecklenburg, Scharff & Wadum, With the best intentions: changed response to relative humidity in "
        "wax-resin lined early 19th century canvas paintings, ICOM-CC 17th Triennial Conference, Melbourne 2014, "
        "article 1301",
        ABSTRACT,
    ),
    "gelatine-sorption-2013": Source(
        "The effects of hydration on the collagen and gelatine phases within parchment artefacts, Heritage Science "
        "1:14 (2013), table 1, which itself quotes earlier measurements",
        EXCERPT, "the table; authors not shown",
    ),
    "pinhas-1996": Source(
        "Pinhas, Blanshard, Derbyshire & Mitchell, The effect of water on the physicochemical and mechanical "
        "properties of gelatin, Journal of Thermal Analysis 47 (1996) 1499-1511",
        ABSTRACT,
    ),
    "zeleznak-hoseney-1987": Source(
        "Zeleznak & Hoseney, The glass transition in starch, Cereal Chemistry 64 (1987) 121-124", ABSTRACT
    ),
    "down-2001": Source(
        "Down, review of the ageing of ethylene-vinyl-acetate adhesives, 2001",
        NOTHING, "told from an excerpt that was not found again",
    ),
    "down-1984": Source(
        "Down, The yellowing of epoxy resin adhesives: report on natural dark aging, Studies in Conservation 29 (1984)",
        ABSTRACT, "year and volume from memory",
    ),
    "ploeger-2013": Source(
        "Ploeger, Forster, Hunston, de la Rie & McGlinchey, Consolidating adhesives for the conservation of paintings: "
        "the development of new heat-seal adhesives, Adhesion Society, annual meeting 2013",
        ABSTRACT,
    ),
    "duffy-1989": Source(
        "Duffy, A study of acrylic dispersions used in the treatment of paintings, Journal of the American Institute "
        "for Conservation 28 (1989) 67-77",
        EXCERPT, "abstract and conclusions",
    ),
    "residual-solvent-2019": Source(
        "On the effect of the solvent on two acrylic resins used as adhesives, Heritage Science 7 (2019), article "
        "s40494-019-0283-9",
        ABSTRACT, "authors not shown",
    ),
    "rothe-panels-1998": Source(
        "Rothe, in Dardes & Rothe (editors), The Structural Conservation of Panel Paintings, Getty Conservation "
        "Institute, Los Angeles 1998, page 198",
        EXCERPT, "the page; editors from memory",
    ),
    "lazzari-2024": Source(
        "Lazzari & López-Morán, Aging of a poly(vinyl acetate)-based white glue and its durability in contemporary "
        "artworks, Polymers 16 (2024) 1712",
        ABSTRACT,
    ),
    "polyamide-2007": Source(
        "A report of 2007 on polyamide welding powder in tear mending",
        NOTHING, "told from an excerpt that was not found again, authors not shown",
    ),
    "patching-study": Source(
        "A study on the application of lining adhesives to canvas reinforcement treatment (patching)",
        ABSTRACT, "authors and year not shown",
    ),
    # ---------------------------------------------------------------------------------------------- air and walls
    "ashrae-fundamentals-2017": Source(
        "ASHRAE Handbook Fundamentals 2017, chapter 1 Psychrometrics; saturation pressure over ice and water by its "
        "equations 5 and 6",
        QUOTED, "as a general library gives its equations",
    ),
    "iso-6946": Source(
        "ISO 6946:2017, thermal resistance of building components", QUOTED, "as secondary texts tabulate it"
    ),
    "iso-13789": Source(
        "ISO 13789:2017, table 8, conventional surface heat transfer coefficients", QUOTED, "as public code quotes it"
    ),
    "iso-13788": Source(
        "ISO 13788:2012, clause 5.3, humidity at the surface, month by month",
        QUOTED, "80 % as BS 5250 annex D tells it of the edition of 2002",
    ),
    "codata-2018": Source(
        "CODATA recommended values of the fundamental physical constants, 2018",
        QUOTED, "as a general library lists them"
    ),
    "scot-u-values": Source(
        "Scottish Government, supplementary topic notes on energy performance certificates, tables UV1 and UV2, and "
        "validation of the U-values of traditional stone walls, appendix A (reduced data of 2012)",
        TEXT, "the stone formulas of 2012 were replaced in 2024 by others that mostly give less",
    ),
    "li-2015": Source(
        "Li, Smith, Biddulph, Hamilton, Lowe, Mavrogianni & others, Solid-wall U-values: heat flux measurements "
        "compared with standard assumptions, Building Research & Information 43 (2015) 238-252",
        ABSTRACT,
    ),
    "kalamees-2006": Source(
        "Kalamees, Vinha & Kurnitski, Indoor humidity loads and moisture production in lightweight timber-frame "
        "detached houses, 2006, 101 houses",
        ABSTRACT, "the mean of houses from memory",
    ),
    # ------------------------------------------------------------------------------------------------------- mould
    "hukka-viitanen-1999": Source(
        "Hukka & Viitanen, A mathematical model of mould growth on wooden material, Wood Science and Technology 33 "
        "(1999) 475-485",
        ABSTRACT, "equations compared in several published copies",
    ),
    "ojanen-2010": Source(
        "Ojanen, Viitanen, Peuhkuri, Lähdesmäki, Vinha & Salminen, Mold growth modeling of building structures using "
        "sensitivity classes of materials, Buildings XI, 2010",
        QUOTED, "class table compared in several published copies",
    ),
    "ashrae-160-2009": Source(
        "ASHRAE Standard 160-2009, criterion of the 30-day running mean at the surface",
        QUOTED, "as the abstract of Glass and others tells it, ASTM STP 1599 (2017), 20160106",
        withdrawn="by its own standard, whose edition of 2016 puts a mould index in its place",
    ),
    "snow-1944": Source(
        "Snow, Crichton & Wright, Mould deterioration of feeding-stuffs in relation to humidity of storage, part I, "
        "Annals of Applied Biology 31 (1944)",
        ABSTRACT,
    ),
    "wright-1941": Source(
        "Wright, The storage of artificially dried grass, Journal of Agricultural Science 31 (1941)", ABSTRACT
    ),
    "michalski-rh": Source(
        "Michalski, Agent of deterioration: incorrect relative humidity, Canadian Conservation Institute",
        EXCERPT, "section Definition",
    ),
    # ------------------------------------------------------------------------------------------- canvas paintings
    "en-15757": Source(
        "EN 15757:2010, Specifications for temperature and relative humidity to limit climate-induced mechanical "
        "damage in organic hygroscopic materials",
        QUOTED, "13 months as Sustainability 17 (2025) 1189 and Heritage Science 11 (2023) s40494-023-00888-6 tell it, "
        "the window and the percentile rule from memory",
    ),
    "directors-2014": Source(
        "Museum directors' interim guidelines, annexed to the declaration on environmental guidelines of IIC and "
        "ICOM-CC, 2014",
        NOTHING, "the declaration itself was read, the annex not found again",
    ),
    "michalski-ladder": Source(
        "Michalski, Canadian Conservation Institute, sensitivity of objects to incorrect humidity",
        NOTHING, "the classes were read, their numbers not",
    ),
    "michalski-cci": Source(
        "Michalski, Agent of deterioration: incorrect temperature, Canadian Conservation Institute",
        EXCERPT, "section Definition; that paintings may crack below 5 °C not found again",
    ),
    "richard-mecklenburg-tumosa-1998": Source(
        "Richard, Mecklenburg & Tumosa, Technical considerations for the transport of panel paintings, in Dardes & "
        "Rothe (editors), The Structural Conservation of Panel Paintings, Getty Conservation Institute, Los Angeles "
        "1998",
        EXCERPT, "pages 527, 528, 541 and 542; editors from memory",
    ),
    "mecklenburg-1998": Source(
        "Mecklenburg, Tumosa & Erhardt, Structural response of painted wood surfaces to changes in ambient relative "
        "humidity, in Dorge & Howlett (editors), Painted Wood: History and Conservation, Getty Conservation Institute, "
        "Los Angeles 1998, 464-483",
        EXCERPT, "page 464; last page from memory",
    ),
    "hedley-1988": Source(
        "Hedley, Relative humidity and the stress/strain response of canvas paintings: uniaxial measurements of "
        "naturally aged samples, Studies in Conservation 33 (1988) 133-148",
        ABSTRACT,
    ),
    "berger-russell-1994": Source(
        "Berger & Russell, Interaction between canvas and paint film in response to environmental changes, Studies in "
        "Conservation 39 (1994) 73-86",
        ABSTRACT,
    ),
    "mcglinchey-1990": Source(
        "McGlinchey, Thermal analysis of fresh and mature oil paint films, Materials Research Society Proceedings 1990",
        ABSTRACT,
    ),
    "padfield-standard": Source(
        "Padfield, Environmental standard proposal, section Relative humidity, conservation physics pages", TEXT
    ),
    "padfield-strain": Source("Padfield, Stress, strain and craquelure, part 7, conservation physics pages", TEXT),
    "poznanska-tempera": Source(
        "Poznańska, Hola, Kozłowski, Strojecki & Bratasz, Mechanical and moisture-related properties of selected dried "
        "tempera paints, Heritage Science 12 (2024), article s40494-024-01147-y",
        ABSTRACT,
    ),
    "erlebacher-1992": Source(
        "Erlebacher, Brown, Mecklenburg & Tumosa, The effects of temperature and relative humidity on the mechanical "
        "properties of modern painting materials, Materials Research Society Proceedings 1992",
        ABSTRACT,
    ),
    "memory-coefficients": (
        "Swelling and thermal coefficients of grounds and oil paints as commonly quoted; from memory, no text seen."
    ),
    "astm-e1049": Source(
        "ASTM E1049-85, Standard practices for cycle counting in fatigue analysis, section 5.4.4",
        QUOTED, "its worked example as the tests of a general library give it",
    ),
    "michalski-2002": Source(
        "Michalski, Double the life for each five-degree drop, more than double the life for each halving of relative "
        "humidity, ICOM-CC Rio de Janeiro 2002, volume I, 66-72",
        QUOTED, "its formula as given after it and Martens, TU Eindhoven 2012",
    ),
    # ------------------------------------------------------------------------------------------------- guidelines
    "ashrae-museums": Source(
        "ASHRAE Handbook, HVAC Applications, Museums, galleries, archives and libraries, 2019 and 2023", NOTHING
    ),
    "australian-2014": Source(
        "Australian Institute for the Conservation of Cultural Material, interim temperature and humidity guidelines, "
        "March 2014, summary",
        TEXT,
    ),
    "australian-2018": Source(
        "Australian Institute for the Conservation of Cultural Material, environmental guidelines 2018, table 1", TEXT
    ),
    "mecklenburg-ranges": Source(
        "Mecklenburg, Determining the acceptable ranges of relative humidity and temperature in museums and galleries, "
        "part 1, introduction",
        TEXT,
    ),
    "uk-directors-2009": Source("UK National Museum Directors' Conference, guiding principles 2009", NOTHING),
    "uk-indemnity": Source(
        "UK Government Indemnity Scheme, conditions on environment", NOTHING, "verify the edition in force"
    ),
    "bs-4971": Source("BS 4971:2017, Conservation and care of archive and library collections", NOTHING),
    "en-16893": Source(
        "EN 16893:2018, Buildings intended for the storage or use of heritage collections", NOTHING
    ),
    "old-norm": Source(
        "The former 50 or 55 ± 5 %, 20 or 21 ± 2 °C",
        QUOTED, "in the introduction to the Australian guidelines",
        withdrawn="by those who had set it, for wider ranges",
    ),
    # --------------------------------------------------------------------------------- instruments, wood and light
    "greenspan-1977": Source(
        "Greenspan, Humidity fixed points of binary saturated aqueous solutions, Journal of Research of the National "
        "Bureau of Standards 81A (1977) 89-96, table of coefficients",
        QUOTED, "coefficients as reprinted in three places; first pages read",
    ),
    "zahumensky-2004": Source(
        "Zahumensky, Guidelines on quality control procedures for data from automatic weather stations, WMO 2004",
        NOTHING,
    ),
    "wood-handbook": Source(
        "Wood Handbook, USDA Forest Products Laboratory FPL-GTR-282, 2021, equation 4-5 and table 4-2",
        TEXT, "the coefficient of change across the grain (chapter 13) from memory",
    ),
    "cie-157": Source(
        "CIE 157:2004, Control of damage to museum objects by optical radiation, also in CEN/TS 16163:2014", NOTHING,
        "contents read, the yearly doses not",
    ),
    "wam-manual": Source(
        "Western Australian Museum, Conservation and care of collections, Paintings, summary", TEXT
    ),
    # ------------------------------------------------------------------------------------------------ heat and fire
    "rouse-1952": Source(
        "Rouse, Yih & Humphreys, Gravitational convection from a boundary source, Tellus 1952", NOTHING
    ),
    "en-442": Source("EN 442, Radiators and convectors; rating point of 75/65/20 °C, convective share", NOTHING),
    "ul-117f": Source(
        "Practice of fire tests on stoves, section on surfaces beside: a rise of 117 °F over the room on combustibles",
        QUOTED, "two trade explanations",
    ),
    "mclaren-2005": Source(
        "McLaren, Null & Quinn, Heat stress from enclosed vehicles, Pediatrics 116 (2005): 40 °F in an hour",
        NOTHING,
    ),
    # -------------------------------------------------------------------------------------------------- drying rooms
    "winkler-2011": Source(
        "Winkler, Christensen & Tomerlin, Laboratory test report for six dehumidifiers, NREL/TP-5500-52791, 2011, "
        "generic performance curves (table)",
        QUOTED, "coefficients compared in several published copies that credit it",
    ),
    "doe-2016": Source(
        "US Department of Energy, final rule of 2016 on dehumidifiers, in force from 13 June 2019, table of thresholds",
        QUOTED, "a notice of a testing house",
    ),
    "drying-trade": Source("Labels and pages of the drying trade, section on ratings, makers left out", TEXT),
    "nist-44": Source(
        "NIST Handbook 44, appendix C, tables of units", QUOTED, "a US gallon is 231 cubic inches, recomputed"
    ),
    "gel-1992": Source(
        "Western Association for Art Conservation, newsletter 1992, on silica gel",
        NOTHING, "told from an excerpt that was not found again",
    ),
    "low-energy-store": Source(
        "Padfield, Larsen, Jensen & Ryhl-Svendsen, on low-energy museum storage, abstract", ABSTRACT
    ),
    "grot-persily-1986": Source(
        "Grot & Persily, Measured air infiltration and ventilation rates in eight large office buildings, ASTM STP 904 "
        "(1986) 151-183",
        ABSTRACT,
    ),
}  # fmt: skip
