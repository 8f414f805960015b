"""Figures that are no sizes: dates, prices, telephone and order numbers, postcodes, weights, tolerances. Pure.

Each is found by its own pattern before a row is split into tokens, so that none of its digits can become a size.
"""

from __future__ import annotations

import re

_MONTH = (r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|"
          r"oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)")
_DAY = r"(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?"
_ORDINAL = r"\d{1,2}(?:st|nd|rd|th)"
_FIGURE = r"\d[\d,. ]*\d|\d"
_THING_NUMBERED = (
    r"purchase order|p\.?o\.?|order|job|quotation|quote|invoice|inv|project|enquiry|inquiry|account|acct?|"
    r"company|vat|registration|reg|drawing|drg|dwg|policy|claim|contract|tender|licence|serial|model|postcode|zip|revision|rev|part|product|catalogue|customer|sheet|page"
)
_PLACE_NUMBERED = (
    r"plot|unit|flat|room|apt|apartment|suite|house|phase|floor|level|building|block|type|bed|bedroom|bathroom|"
    r"bath|mirror|panel|pane|item|line|pos|position|location|area|zone|door|bay|ref|reference|section|detail|"
    r"option|lot|mark|tag|key|number|no\.?|window|glass|piece"
)

#: what an aside is, and how it is written; the first that fits is taken. Matched in small letters, plain marks.
PATTERNS: tuple[tuple[str, re.Pattern[str]], ...] = tuple((said, re.compile(pattern, re.VERBOSE)) for said, pattern in (
    ("address", r"\S+@\S+\.\w+ | https?://\S+ | www\.\S+"),
    ("telephone", r"""(?<![\w.])(?:
        \+\d[\d\s().-]{7,18}\d
      | \(?0\d{2,4}\)?(?:[\s.-]*\d){6,8}
      | \(?\d{3}\)?[\s.-]\d{3}[.-]\d{4}
      | (?:tel|telephone|phone|mobile|mob|cell|fax|call|ring|text)\b[^\d\n]{0,12}(?:\d[\s().-]*){6,14}(?<=\d)
      )(?!\w)"""),
    ("date", rf"""\b(?:
        \d{{1,2}}[./-]\d{{1,2}}[./-](?:\d{{4}}|\d{{2}})(?!\d)
      | \d{{4}}-\d{{2}}-\d{{2}}
      | (?:{_DAY},?\s+(?:the\s+)?)?(?:{_ORDINAL}|\d{{1,2}})(?:\s+of)?\s+{_MONTH}\b\.?(?:,?\s+\d{{4}})?
      | (?:{_DAY},?\s+)?{_MONTH}\.?\s+(?:{_ORDINAL}|\d{{1,2}})\b(?:,?\s+\d{{4}})?
      | {_MONTH}\.?\s+(?:19|20)\d\d
      | {_DAY}\s+(?:the\s+)?(?:{_ORDINAL}|\d{{1,2}})\b
      | (?:the\s+)?{_ORDINAL}\b
      | (?:week|wk)\s+\d{{1,2}}\b
      | (?:in|since|from|around|circa|about|c\.)\s+(?:1[5-9]|20)\d\d\b(?!\s*(?:mm|cm|x|by|m\b))
      | (?:by|on|before|until|after|{_DAY})
        \s+(?:the\s+)?\d{{1,2}}/\d{{1,2}}(?:/\d{{2,4}})?\b(?!\s*(?:in|"|x))
      )"""),
    ("time", r"\b\d{1,2}[:.]\d{2}\s?(?:am|pm|hrs|h)?\b(?<=[mhs]) | \b\d{1,2}:\d{2}\b | \b\d{1,2}\s?(?:am|pm)\b"),
    ("price", rf"""[£$€]\s?(?:{_FIGURE})k? | \b(?:{_FIGURE})\s?(?:gbp|usd|eur|euros?|pounds|dollars|quid|[£€$](?!\s?\d))
      | \b(?:(?:unit|net|line|grand)\s)?(?:price|total|amount|cost|rate|value|net|gross|vat)\s?[:=]?\s?\d[\d,]*\.\d\d
        (?!\d)(?!\s*(?:mm|cm|m|in|x|ft)\b)
      | \b(?:budget|price|cost)\s+(?:is|of|was|about|around)\s+(?:{_FIGURE})(?!\s*(?:mm|cm|m|in|x|ft)\b)"""),
    ("share", r"\b\d[\d.,]*\s?(?:%|per\s?cent\b)"),
    ("weight", r"\b\d[\d.,]*\s?(?:kg|kgs|kilos?|lbs?|stone)\b"),
    ("area", r"""\b\d[\d.,]*\s?(?:m2|m²|sq\.?\s?m|sqm|square\s+(?:met(?:re|er)s?|feet|foot|inches)|sq\.?\s?(?:ft|feet)
      |ft2|ft²|cm2|cm²)(?!\w)"""),
    ("tolerance", r"""(?:±|\+\s?/\s?-|\+-|plus\ or\ minus|tolerance(?:\ of)?:?)\s?[±+-]?\s?\d[\d./]*\s?(?:mm|cm|in|")?
      | \+\s?\d[\d.]*\s?(?:mm)?\s?[/,]\s?-\s?\d[\d.]*\s?(?:mm)? | -\s?\d[\d.]*\s?/\s?\+\s?\d[\d.]*\s?(?:mm)?
      | \+\s?\d[\d.]*\s?(?:mm)?\s+-\s?\d[\d.]*\s?(?:mm)?(?![\d.]*\s?x)
      | [+-]0\s?/\s?[+-]?\d[\d.]*\s?(?:mm)?"""),
    ("span of time", r"""\b(?:\d+\s?(?:-|to)\s?)?(?:\d+|one|two|three|four|five|six|seven|eight|ten|twelve)\s?-?
      (?:working\s|business\s|calendar\s)?(?:days?|weeks?|wks?|months?|years?|yrs?|hours?|hrs?|minutes?|mins?)\b
      (?:'s?|-old)?"""),
    ("number of something", r"""\b\d[\d,]*\s?-?(?:miles?|km|seats?|seater|people|guests?|persons?|bedrooms?|bathrooms?
      |floors?|storeys?|stories|tables?|watts?|volts?|v|deg(?:rees)?|covers|steps|stairs|screws|clips|lights
      |fixings|hooks|brackets|flights|coats|photos|pictures|drawings|visits|deliveries|invoices)\b"""),
    ("number of a paper", rf"""\b(?:{_THING_NUMBERED})\b\.?\s*(?:no\.?|number|nr\.?|num\.?|ref\.?)?\s*[:#]*\s*
      (?=[a-z/-]{{0,6}}\d{{2,}})[a-z]{{0,4}}[-/]?\d[\w/-]*(?![\w/-])
      (?!\s*(?:x|mm|cm|"|'|by|high|wide|mirrors?|panels?|panes?|pieces?|pcs|pc|no\b|nos|off|nr|sheets?|tiles?|of\b|antique|plates?
      |rounds?|ovals?|discs?|@))
      | \#\s?\d{{3,}}\b"""),
    ("postcode", r"\b[a-z]{1,2}\d{1,2}[a-z]?\s+\d[a-z]{2}\b | \b[a-z]{2}\s+\d{5}(?:-\d{4})?\b(?!\s*(?:x|mm))"),
    ("street", r"""\b\d{1,4}[a-z]?,?\s+(?!mm|cm|inch|in\b|ft\b|foot|feet|m\b|x\b|off\b|no\b|by\b)(?:[a-z']+\s+){1,3}
      (?:street|st|road|rd|lane|avenue|ave|close|drive|court|place|terrace|square|crescent|gardens|mews|blvd|row|hill
      |parade|wharf|quay)\b(?!\s*x)"""),
    ("place", rf"""\b(?:{_PLACE_NUMBERED})\.?(?:\s*\#?\d{{1,3}}[a-z]?|\s+[a-z]\d{{1,3}}|\s+[a-z])\s*
      (?:[:.)]|-\s|\s-|(?=,\s|$))"""),
    ("place", r"""\b(?:flat|plot|apartment|apt|suite|room)\s\d{1,4}[a-z]?(?:'s)?(?=\s[a-z]{2,})
      (?!\s(?:mm|cm|by|off|no|nos|nr|pcs|of|in|ft|wide|high|mirrors?|panels?|panes?|pieces?)\b)"""),
    ("greeting", r"""^\s*(?:hi|hiya|hello|hey|dear|morning|good\ (?:morning|afternoon|evening|day)|thanks|thank\ you
      |cheers)(?:\s(?:there|again|both|all))?(?:\s[^\W\d]+){0,1}(?:\s(?:and|&)\s[^\W\d]+)?\s*,"""),
    ("arrangement", r"""\b\d{1,2}\s?(?:x|by|\*)\s?\d{1,2}\s(?:\w+\s)?(?:grid|array|pattern|layout|arrangement|formation
      |matrix|configuration|block)\b
      | \b\d{1,2}\s(?:tiles?\s|panels?\s)?across\s(?:by|x|and)\s\d{1,2}\s(?:tiles?\s|panels?\s)?(?:up|down)\b"""),
    ("holes", r"""(?:\d{1,2}|two|three|four|six|eight)\s?(?:x\s?)?(?:no\.?\s)?(?:ø\s?)?(?:\d{1,2}\s?mm\s)?
      (?:fixing\s|screw\s|drilled\s)?(?:holes|hole)\b(?:\s?(?:of|ø|@)\s?\d{1,2}\s?mm)?"""),
    ("holes", r"""\b\d{1,3}(?:\s?mm)?\s?(?:x|by|/|and)\s?\d{1,3}(?:\s?mm)?\s(?:in\s)?from\s(?:the\s|each\s)?
      (?:edges?|corners?|sides?|bottom|top|left|right)\b"""),
    ("list number", r"^\s*[-*•·]?\s*\d{1,2}[.)]\s+"),
    ("place", r"^\s*[-*•·]?\s*\(?(?![wh]\s?[-:.])[a-z]\s?[-:.)]\s+(?=\d)"),
    ("place", r"""^\s*[-*•·]?\s*(?!(?:w|h|l|d|x|ø|qty|no|nr|of|mm|cm|dia|rad|about|ca?)[\s-]?\d)
      [a-z]{1,4}[-/.]?\d{1,3}[a-z]?\s*(?:[:.)]\s|-\s|\s-|(?=\s\d|\s[a-z@(]))"""),
    ("place", r"""^\W*
      (?!(?:qty|quantity|width|height|dia\w*|size|about|circa|only|need|want|another|over|under|approx\w*)\b)
      [a-z]{2,}[a-rt-z]\s\d{1,3}[a-z]?\s*(?::\s|\s-\s|-\s)(?=.*\d)"""),
    ("thickness", r"""\b\d{1,2}(?:\.\d)?\s?mm\s+(?:thick|glass|float|toughened|tempered|clear|low|laminated|annealed|
      bevel\w*|plate|safety|radius|arris\w*|polish\w*|flat|pencil|edge\w*|holes?|joints?|gaps?|mdf|ply\w*|board|tinted|
      grey|bronze|extra|backing|lip|border)(?!\w)
      | \b(?:thickness|thick|bevel(?:led)?|bevelled\ edge|glass|joints?|gaps?)\s*(?:of|:|=|is)?\s*\d{1,2}(?:\.\d)?\s?mm
      | \b(?:\d\s)?\d/\d{1,2}\s?(?:"|in(?:ch)?)?\s+(?:thick|glass|bevel\w*|float|plate|tempered|clear|polish\w*)
      | \b(?:one|half|quarter|an|a)\s(?:\w+\s)?inch\s+bevel\w*
      | \b\d{1,2}(?:\.\d)?\s?(?:"|in(?:ch)?)?\s+bevel\w* """),
    ("corners", r"\b(?:r\s?)?\d{1,3}\s?(?:mm)?\s?(?:radius(?:ed)?\s|rad\s|round(?:ed)?\s)corners?\b"),
))


#: what stands after these is a side of a size, whatever words follow it
_A_SIDE = re.compile(r"(?:[\dm\"')]\s*[x*]|\bby)\s*$")


def asides(plain: str) -> list[tuple[int, int, str]]:
    """Return start, end and kind of each aside of a row in small letters, in order and none over another."""
    found: list[tuple[int, int, str]] = []
    for said, pattern in PATTERNS:
        for match in pattern.finditer(plain):
            start, end = match.span()
            if said == "thickness" and _A_SIDE.search(plain, 0, start):
                continue
            if start < end and not any(start < other and first < end for first, other, _ in found):
                found.append((start, end, said))
    return sorted(found)
