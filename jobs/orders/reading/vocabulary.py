"""The words a letter is read by: of shapes, pieces, openings, of what was and what is not; and words that say nothing.

Data, no code: a word more is a word here and a letter in the tests.
"""

from __future__ import annotations


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


ROUND = _set("""round rounds circle circles circular disc discs disk disks roundel roundels rond ronde rund runde runder
    ø dia diam diameter""")
OVAL = _set("oval ovals ovale ovalen oval-shaped ellipse ellipses elliptical")
#: shapes that are asked about, and what each is called in the question
ASKED_SHAPES: dict[str, str] = {
    **dict.fromkeys(("arch", "arched", "arches", "arch-top", "arched-top", "archtop", "gothic", "cathedral"), "arch"),
    **dict.fromkeys(("half-moon", "half-moons", "halfmoon", "demilune", "semicircle", "semi-circle", "semicircular",
                     "semi-circular", "half-round", "half-circle", "lunette", "d-shape", "d-shaped"), "half-moon"),
    **dict.fromkeys(("quadrant", "quarter-circle", "quarter-round"), "quarter circle"),
    **dict.fromkeys(("octagon", "octagons", "octagonal"), "octagon"),
    **dict.fromkeys(("hexagon", "hexagons", "hexagonal", "hex"), "hexagon"),
    **dict.fromkeys(("pentagon", "pentagons", "pentagonal"), "pentagon"),
    **dict.fromkeys(("triangle", "triangles", "triangular"), "triangle"),
    **dict.fromkeys(("trapezium", "trapezoid", "trapezoidal", "trapeziums"), "trapezium"),
    **dict.fromkeys(("diamond", "diamonds", "rhombus", "lozenge", "lozenges", "parallelogram"), "diamond"),
    **dict.fromkeys(("shaped", "irregular", "freeform", "template", "templated", "heart", "star", "sunburst", "kidney",
                     "scalloped", "teardrop", "pebble", "wavy", "curved", "l-shaped", "t-shaped", "notched", "notch",
                     "raked", "rake", "sloping", "sloped", "slope", "slopes", "splay", "splayed",
                     "angled", "tapered", "tapering", "organic", "asymmetric", "pill",
                     "capsule", "racetrack", "stadium", "crescent", "fan", "cloud", "keyhole"), "shaped pane"),
}
_TWO_WORDS = {("half", "moon"): "half-moon", ("half", "moons"): "half-moon", ("half", "circle"): "half-moon",
              ("half", "round"): "half-moon", ("semi", "circle"): "half-moon", ("semi", "circular"): "half-moon",
              ("quarter", "circle"): "quarter circle", ("quarter", "round"): "quarter circle",
              ("half", "circles"): "half-moon", ("d", "shape"): "half-moon", ("d", "shaped"): "half-moon",
              ("out", "of"): "", ("cut", "corners"): "shaped pane", ("cut", "corner"): "shaped pane",
              ("clipped", "corners"): "shaped pane", ("rounded", "top"): "arch", ("round", "top"): "arch",
              ("curved", "top"): "arch", ("domed", "top"): "arch",
              ("corner", "cut"): "shaped pane", ("corners", "cut"): "shaped pane", ("corner", "off"): "shaped pane"}
TWO_WORD_SHAPES = {words: shape for words, shape in _TWO_WORDS.items() if shape}
HALF_MOON = "half-moon"
#: words of shapes that are rectangles
SQUARE = _set("rect rects rectangle rectangles rectangular square squares squared oblong")
SHAPES = ROUND | OVAL | frozenset(ASKED_SHAPES) | SQUARE

PIECES = _set("""piece pieces pane panes panel panels mirror mirrors tile tiles glass glasses sheet sheets splashback
    splashbacks plate plates light lights insert inserts door-panels strip strips square squares oval ovals round rounds
    circle circles disc discs moon moons size sizes unit units lite lites backing top tops shelf shelves rectangle
    rectangles looking-glass back-panel tabletop item items section sections one ones
    spiegel miroir miroirs glace glaces specchio specchi espejo espejos spegel speil spejl spiegels lustro zrcadlo""")

#: what all the sizes are called: “sizes are frame sizes”
OF_SIZES = _set("sizes measurements dimensions dims measures")
#: what a size may be of, that is no pane: an opening that a pane goes into, …
OPENINGS = _set("""opening openings recess recesses alcove alcoves niche niches aperture apertures reveal reveals void
    rebate rebates gap gaps slot slots hole-size""")
FRAMES = _set("frame frames framing surround surrounds moulding mouldings molding carcass carcase")
#: … or something else altogether, …
THINGS = _set("""wall walls room rooms ceiling floor door doors doorway window windows table tables desk cabinet
    cabinets wardrobe wardrobes sideboard vanity sink basin bath shower fireplace mantel mantelpiece chimney
    chimneybreast breast counter bar bench worktop space area crate box parcel pallet lift elevator stairwell van plan
    drawing photo photograph picture painting tv television radiator bed sofa headboard plinth cupboard hallway
    corridor hall lobby kitchen bathroom bedroom workshop unit wall-area""")
#: where a pane may hang
ROOMS = _set("""hall hallway landing study bathroom bedroom kitchen lounge ensuite en-suite utility cloakroom bar lobby
    reception spa gym studio office loo wc stairs dining-room restaurant nursery snug library larder pantry""")
#: … or a hole in a pane
HOLES = _set("hole holes cut-out cut-outs cutout cutouts socket sockets switch switches notch notches")

#: it was, and need not be: asked
PAST = _set("""last previous previously existing old older already ordered bought had was were used originally original
    earlier before supplied received broke broken cracked had'nt hadn't replaced quoted formerly sold
    accepted approved""")
#: it may be: asked
MAYBE = _set("""if or maybe perhaps possibly might may considering alternatively alternative either option options
    whether versus vs compared compare comparison unsure undecided hypothetically think thinking wondering wonder
    could-be eventually later future roughly unless probably thinking tbc tbd provisional provisionally estimate
    guess""")
#: it is like another, or a limit: asked
LIKE = _set("""similar like same than bigger larger smaller maximum max minimum min largest smallest biggest up least
    most split divide divided joined combined making
    standard example e.g eg sample samples catalogue stock reference between under over within limit""")
#: it is not: what follows is taken back
NOT = _set("not against no-longer don't dont without except excluding never nor isn't wasn't aren't")
CANCEL = _set("""scrap scrapped shelved binned omitted dropping scratch ignore forget cancel cancelled
    canceled delete deleted remove removed drop dropped
    disregard omit bin skip strike struck withdraw withdrawn void leave""")
#: what was written before is changed
CHANGE = _set("""actually sorry correction correct corrected meant mean change changed instead rather amend amended
    amendment revise revised update updated oops apologies mistake wrong should typo now misread replace replaces
    supersedes""")

#: there are several, and it is not said how many: asked
UNCOUNTED = _set("""few several handful various multiple numerous set sets batch lots range number bunch stack
    selection plenty loads""")
#: what something is divided into: “in four panels”, “a four-panel screen”
PARTS = _set("""piece pieces panel panels pane panes part parts section sections half halves leaf leaves fold folds
    strip strips light lights lite lites sheet sheets segment segments bay bays door doors""")
#: what has panels: one thing, however many they are
WHOLE_THINGS = _set("""screen screens door doors window windows mirror divider partition wardrobe cabinet splashback
    set unit bifold bi-fold folding shower table sash wall piece feature dressing""")
#: the size is that of all together
WHOLE = _set("overall total altogether combined whole entire together")
#: what a small length beside a size is of, that changes no size
DETAILS = _set("""thick thickness bevel bevels bevelled beveled glass edge edges radius corner corners arris
    polished joint joints gap clearance frame frames border borders mdf ply plywood board backing lip hole holes
    deep rebate trim moulding strip strips band line rail margin tolerance top worktop profile r rad""")

#: words that change nothing and are no note
FILLER = _set("""a an the i we you us our my your me they it its is are be been am this that these those there here to
    for of in on at by with from and or & plus as so please pls thanks thank cheers ta regards hi hello hey dear
    morning afternoon evening good would like love need needs needed want wants wanted require required requires
    requiring looking look after order ordering orders quote quotes quoting price prices pricing cost costs estimate
    can could will shall do does did have has having get getting make making made give send supply us also too then
    just only another more new one ones each every all both following follows below above attached size sizes sized
    dimension dimensions dims measurement measurements measuring measures measure wide high tall width height long
    length across off no nos nr pc pcs pce piece pieces pane panes panel panels mirror mirrors glass qty quantity
    number ea mm cm m in inch inches ft feet foot how much many what when up out be it's i'd we'd i'm we're i'll we'll
    that's here's ok okay yes yeah hope well much very kindly possible x w h d overall finished about us per same
    rectangle rectangular square cut please. exactly exact total items item let know thank-you some few few. list
    back first second third finally next them team sirs all-round again asap currently right so.""")

#: what may be the same and is no size
SAME_THINGS = _set("client customer house address building finish room person people site place project day time week")
#: what may be old and is no glass
LOOKS = _set("""enough looking fashioned house building barn mill pub chapel church school farmhouse cottage style town
    shop factory look""")
#: words of an answer to what is quoted under it: some of it is chosen
CHOOSING = _set("""yes first second third fourth last former latter option options only except but instead not either
    prefer ahead accept accepted agree approve approved cheaper dearer larger smaller bigger without change one both""")
