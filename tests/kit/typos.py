"""What people type wrongly: two hundred and more slips of the hand for each kind of field, by rules and as seen."""

from __future__ import annotations

from collections.abc import Iterator

#: written by hand, whatever the field
SEEN = (
    "5 kg", "5kg", "5 sheets", "5 sheet", "five", "a few", "half", "½", "1½", "1 1/2", "1/2", "1/0", "0/0", "1/2/3", "/2", "1/", "1//2", "1 / 2", "3-4", "3–4",
    "3 to 4", "about 5", "ca. 5", "~5", "<5", ">5", "=5", "+5", "-5", "--5", "+-5", "−5", "(5)", "5-", "5.", ".5", "5..5", "5,,5", "5.5.5", "5,5", "1,000", "1.000",
    "1,000.50", "1.000,50", "1 000", "1'000", "10O", "l0", "O", "o,5", "I2", "1e3", "1E-3", "0x1F", "1_000", "²", "5²", "m²", "5 m²", "５", "１２ g", "٣", "५", "5\u00a0g",
    "5\u202fg", "5\tg", "5\ng", "5\r\ng", "5\x00g", "\ufeff5 g", "5 g\u200b", "NaN", "inf", "-Infinity", "None", "null", "n/a", "?", "-", "–", "*", "%", "5%", "5 %", "5 % %", "50 per cent",
    "150 %", "-1 %", "£5", "5 £", "€5", "$ 5", "5 GBP", "5.-", "5,-", "GBP", "1 2 3", "5 5", "5 g 5", "5 g + 2 g", "2 x 5", "2x5", "2 x 500 g", "x5", "5x", "5 ×", "2*3", "2 x", "12 x 32 US fl oz",
    "today", "1 Feb", "31/02/2027", "2027-13-01", "yesterday", "14:30", "9am", "5 o'clock", "5 or so", "5 kg or so", "500 g each", "each 5", "5 pcs", "5 pieces", "5 piece", "5 ea",
    "5 g.", "5 g,", "5, g", "5 .g", "g 5", "g5", "g", "kg", "mL", "mm", "5 gg", "5 k g", "5 Kg", "5 KG", "5 G", "5 gr", "5 grm", "5 grams", "5 gms", "5 ml", "5 ML", "5 mls", "5 l", "5 L", "5 ltr",
    "5 litres", "5 gal", "5 US gal", "5 oz", "5 fl oz", "5 US fl oz", "5 lb", "5 lbs", "5#", "5 m", "5 mm", "5 cm", "5 in", '5"', "5'", "5''", "5' 6\"", "5ft6", "5 ft 6 in", "5 µm", "5 min",
    "5 mins", "5 h", "5 hrs", "5 days", "5 d", "1 week", "5:30", "0:05", "5 °C", "5C", "5 F", "68 °F", "20°", "-40 C", "300 C", "5 mL/m2", "5 ml/m²", "5 L/m2", "8 US fl oz/ft2", "2 mm deep",
    "999999999999", "9" * 13, "9" * 19, "9" * 31, "9" * 61, "9" * 5000, "0", "0.0", "-0", "00", "007", "0.0000000001", "1e40000000", "none", "", " ", "'", '"', ";", "5;5", "5|5", "{5}", "5 😀",
)
#: as it is meant, of each kind
MEANT = {
    "time": ("30 s", "5 min", "1.5 h"), "coverage": ("300 mL/m2", "8 US fl oz/ft2"), "volume": ("20 mL", "1.5 L"), "length": ("50 mm", "24 3/8 in"),
    "thickness": ("6 mm", "1/4 in"), "temperature": ("20 °C", "68 F"), "share": ("10 %", "0.15"), "number": ("2", "1.5"), "strength": ("1.5", "double"),
    "money": ("1,250.50", "£24.00"), "date": ("1 Feb 2027", "in 3 weeks", "2027-03-31"), "moment": ("1 Feb 14:30", "14:30"), "mass": ("500 g", "1.5 lb"),
    "sheets": ("6 sheets", "6"), "size": ("610 x 915 mm", "24 3/8 x 36"), "hours": ("8-17", "9am to 5pm"), "count": ("12", "500"),
}
_LETTERS = (("0", "O"), ("0", "o"), ("1", "l"), ("1", "I"), ("5", "S"), (".", ","), (",", "."), (".", ".."), (" ", ""), (" ", "  "), (" ", "\u00a0"), ("/", "//"), ("-", "–"),
            ("x", "×"), ("x", "x x"), ("m", "mm"), ("£", "€"), ("£", "$"), (":", "."), (":", "::"), ("2", "²"), ("3", "³"))
_BEHIND = (" or so", " approx", "?", "!", " kg", " g", " mL", " mm", " sheets", " each", " x", " /", ",", ".", "-", " %", " €", "²", " 5", "\x00", "\r\n", " (see note)", "0" * 40)
_BEFORE = ("-", "+", "--", "~", "c. ", "£", "$", "= ", "x ", "0", "00", ".", ",", "about ", "'", "\t")


def typos(kind: str) -> list[str]:
    """Return what is typed wrongly where a kind is meant, each once."""
    return list(dict.fromkeys((*(text for meant in MEANT[kind] for text in _slips(meant)), *SEEN)))


def _slips(meant: str) -> Iterator[str]:
    yield meant
    yield from (meant.replace(one, other) for one, other in _LETTERS if one in meant)
    yield from (meant + more for more in _BEHIND)
    yield from (more + meant for more in _BEFORE)
    yield from (meant[:at] + meant[at + 1:] for at in range(len(meant)))  # one letter left out
    yield from (meant[:at] + meant[at] + meant[at:] for at in range(len(meant)))  # one typed twice
    yield from (meant[:at] + meant[at + 1] + meant[at] + meant[at + 2:] for at in range(len(meant) - 1))  # two the wrong way round
    yield meant.translate(str.maketrans("0123456789", "０１２３４５６７８９"))
    yield meant.translate(str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹"))
    yield meant.upper()
    yield meant[::-1]
    yield f"{meant} {meant}"
    yield f"{meant}/{meant}"
    yield f"{meant}\n{meant}"
