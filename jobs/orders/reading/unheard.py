"""Words that change an order and that no rule acted on: what they touch is asked about, and never a plain line. Pure.

Each rule of the reader leaves a trace in its item: a doubt, a deduction, what the size is of. A passage that holds one
of these phrases and shows no trace was not understood. First the phrases that only sound so are taken out.
"""

from __future__ import annotations

import re

from jobs.orders.reading.items import Item
from jobs.orders.reading.tokens import Token, plain
from jobs.orders.reading.vocabulary import FILLER

_MEASURES = r"(?:sizes?|measurements?|measures?|dimensions?|dims?|glass|lines?|figures?)"

#: phrases that sound like a change and are none
_HARMLESS = re.compile(r"""
    \bif\s(?:at\sall\s)?(?:poss(?:ible)?\b|you\s(?:can|could|need|have|want|would|are|think|don't\smind)|that\shelps|it\shelps
      |(?:that|it|this)(?:'s|\sis|\scan\sbe)\s(?:done|possible|ok(?:ay)?|available|an\soption)
      |needed|necessary|i\smay|not\stoo)\b
  | \bif\s(?:anything|something|there)\b | \blet\s(?:me|us)\sknow\sif\b | \bask\sif\b
  | \bor\s(?:so|thereabouts)\s(?:days|weeks)\b | \beither\s(?:side|end|way|of\sthe)\b
  | \bas\s(?:soon|well|quick(?:ly)?|discussed|promised|agreed|attached|requested|per|follows|we|i|you|usual|ever)\b
  | \b(?:not|no)\s(?:rush|hurry|problem|worries|later\sthan|charge|only|too|very|so)\b | \bwhy\snot\b
  | \b(?:no|without|without\sany|no\sneed\sfor\s\w+)\s(?:bevels?|holes?|edge\w*|frames?|fixings?|delivery|backing
      |rush)\b
  | \bdon't\s(?:mind|worry|know|have|hesitate|forget)\b | \bnot\ssure\s(?:how|what|about)\b | \bchange\sof\saddress\b
  | \b(?:at\sleast|at\smost)\b | \bunless\s(?:marked|stated|noted|otherwise|shown|said)\b
  | \bup\s(?:to|from|in|on)\b | \bplus\s(?:vat|delivery|postage|carriage|p&p)\b
  | \bfeel\sfree\b | \bsame\s(?:client|customer|house|address|building|finish|glass|look|day|time|week|room|person|
      people|site|place|project|as\susual)\b | \bonly\sone\b(?=\W*$) | \bwould(?:n't)?\s(?:really\s)?like\b
""", re.VERBOSE)

#: words beside a size that make it another order: the rest of …, options, sizes that are not the pane's own
_BESIDE = re.compile(rf"""
    \bthe\s(?:rest|remainder|remaining|others?)\b | \b(?:possibly|perhaps|maybe|might|potentially|provisional(?:ly)?)\b
  | \b(?:if|unless|depending|subject\sto|tbc|tba|whichever|either|alternative(?:ly)?|versus)\b
  | \b(?:option|alternative|variant|version)\s(?:\d|[a-f]\b|one|two|three)
  | \b(?:visible|sight|daylight|tight|rebate|opening|aperture|outside|external|frame|hole|clear)\s{_MEASURES}\b
  | \b(?:except|excluding|apart\sfrom)\b | \b(?:sight|daylight|visible)\b | \b(?:versions|options)\sof\b
  | \bor\b(?!\s(?:so\b|thereabouts|similar|nearest|near\soffer)) | \bno,?\s(?:wait|sorry|hang\son)\b
  | \b(?:hang|hold)\son\b
  | \b(?:i\smean|rather|on\ssecond\sthoughts?|on\sreflection)\b
  | \b(?:is|was|are|were|costs?|comes\sto|showed|shown|saw|seen|advertised|listed)\s(?:at\s|about\s)?[£$€]\d
  | \b(?:price|your)\s(?:list|catalogue|website|brochure|shop)\b
  | \bwe\s(?:had\s|have\s)?thought\b
  | \b(?:do|does|would|what|should)\s(?:you|that|it|this|we|i)\s(?:\w+\s)?(?:agree|advise|suggest|recommend|think|say
      |work|fit|go\sfor)\b | \bhow\s(?:about|would)\b | \bwhat\sabout\b
  | \b(?:bid|scheme|scenario|case|proposal)\s(?:\d|[a-f]\b|one|two|three)
  | \b(?:each|per|either|both|opposite)\shands?\b | \bport\s(?:and|&)\sstarboard\b | \bp\s?&\s?s\b
  | \b(?:lh|l\.h\.|l/h)\b.{{0,9}}\b(?:rh|r\.h\.|r/h)\b
  | \b(?:(?:we|i)(?:\shave|'ve|ve)|there\s(?:are|is)|has)\s(?:got\s)?(?:\w+\s){{1,3}}(?:doors?|windows?|cupboards?
      |wardrobes?|cabinets?|tables?|bays?)\b
  | \b(?:thanks|thank\syou)\sfor\s(?:the|those|these|my|our|your)\s(?:\w+\s){{0,3}}
      (?:mirrors?|panels?|panes?|glass|tiles?|pieces?|plates?)\b
  | \b(?:broke|broken|cracked|smashed|shattered|fallen|fell|stolen)\b
  | \b(?:we|i|they|he|she)\s(?:once\s|already\s)?(?:put|bought|hung|fitted|installed|sold|had\sput)\b
  | \b(?:sells?|selling|sold|charges?|charging|advertis\w+|on\ssale)\b
  | \bhow\s(?:heavy|thick|long|big|soon|easy|difficult)\b
  | \b(?:weighs?|possible\sto|is\sit\spossible|biggest|largest)\b
  | ^\s*\[\s?\] | \b(?:for|on|in|to)\seach\s(?:is|are|of\sthe)\b | \bre-?quote\b
  | \b(?:wall|space|room|lift|van)\s(?:takes|allows|is|measures|can)\b
  | \b(?:for|as\sa)\s(?:comparison|reference|information)\b | \bthe\sones?\s(?:in|at|on|we|you|i|that|which)\b
  | \b(?:our|my|your|the)\s(?:current|present|other)\b
  | \b(?:same|as)\s(?:above|before|below|last\stime)\b | \bthe\ssame\s(?:again|but|as|in|size)\b | \bditto\b
  | \b(?:hold\soff|on\shold|don't\s(?:cut|make|start)|do\snot\s(?:cut|make|start)|not\syet)\b
  | \b(?:each|every)\s(?:door|window|room|unit|side|wall|bay|bathroom|bedroom|floor|wardrobe|cabinet|recess|alcove)\b
  | \b(?:instead|scrap|scratch|cancel(?:led)?|no\slonger|forget|ignore|disregard|used\sto\sbe|supposed\sto\sbe)\b
  | (?:\+|\b(?:plus|add(?:ing|ed)?|extra|allow\w*))\s?(?:an?\s|another\s|extra\s|about\s|on\s){{0,2}}
      \d+(?:[.,]\d+)?\s?(?:mm|cm|m|in|inch|inches|")(?!\s?/)\b(?!\s(?:bevel|polish|radius|frame|border))
  | \b(?:overlap\w*|overhang\w*|upstand\w*|oversize\w*|undersize\w*|return\sedge)\b
  | \b(?:mm|cm|inch|inches|in|bit|little|slightly|another\sone)\s(?:or\sso\s)?
      (?:wider|taller|higher|longer|narrower|shorter|bigger|larger|smaller|deeper|more|less)\b
  | \b(?:\d+|an?|one|two|three|four)\s(?:x\s|off\s|of\s|no\s)?(?:the\s)?same\b
      (?!\s(?:client|customer|house|address|building|finish|look|day|time|week|room|person|site|place|project))
  | \b(?:repeat\w*|likewise|duplicate\w*|handed|ditto)\b
  | \b(?:\d\s?/\s?\d|half|quarter|third|part|segment)\s(?:of\s)(?:an?|the)\b
  | \b(?:to\sbe|being|will\sbe|get|need\w*)\s(?:\w+\s)?(?:confirmed|advised|agreed|checked|verified|measured
      |finali[sz]ed)\b
  | \b(?:nominal\w*|pending|awaiting|site\s(?:dims?|dimensions?|measure\w*|check\w*)
      |(?:will|to)\s(?:confirm|advise|check))\b
  | \bless\s(?:the|an?|my|our|its)\b | \bas\smany\b | \bbaker's\b | \bhalf[\s-](?:height|width|size|length|depth)\b
  | \boff\s(?:one|each|the|an?|both|all|two)\s(?:\w+\s)?(?:corners?|sides?|edges?|top|bottom|left|right|ends?|width
      |height)\b
  | \ban?\s(?:matching|identical|second|further|extra)\s(?:one|pair|mirror|panel|pane|piece)\b
      (?!\W*(?:at|of|in|is|measuring|\d))
  | \b(?:incl\w*\.?|inc|excl\w*\.?|outside|inside|outer|net)
      \s(?:of\s|the\s|an?\s|its\s|any\s|\d+\s?(?:mm|cm|in)\s){{0,3}}(?:frames?|framing|surrounds?|mouldings?|borders?|trims?|rebates?)\b
  | \b(?:internal|external|internally|externally)\b
  | (?:\+|\b(?:plus|up|down|by|extra|add(?:ing)?|less|minus))\s?(?:by\s|an?\s)?\d+\s?(?:%|per\s?cent)
  | \b(?:breakages?|wastage|allow\w*\s\d+\s?(?:%|per\s?cent))
  | \b(?:increase|enlarge|reduce|shrink|extend|shorten|widen|trim)\w*\b
  | \b(?:already\s(?:have|had|got|ordered|paid|delivered|fitted|made))\b
  | \b(?:cover\w*|clad|tiled?|fill\w*|made\sup)\s(?:it\s|them\s|entirely\s|completely\s)?(?:in|with|of|by)\b
  | \b(?:twice|double|half)\s(?:that|this|the|as|of)\b | \b(?:minus|less|short\sof)\s(?:\d|one|two|three)
""", re.VERBOSE)

#: some of several are another thing: “3 off 600 x 900, one without antiquing”
_OF_SOME = re.compile(r"\bone\s(?:of\s(?:them|these|which|those)\s)?(?:without|with|not|in|to|has|needs|is|should"
                      r"|only)\b|\b(?:the\s)?(?:first|second|third|last)\s(?:one|with|without|in|to|has|needs)\b")

#: words that turn a wish about, whatever stands beside them
_TURNING = re.compile(r"""
    \b(?:won't|can't|cannot|isn't|aren't|wasn't|weren't|didn't|doesn't|but|actually|may|might|again|fewer|differ\w*|though
      |however|hopefully|whether|wrong|mistake|misread|unfortunately|afraid|almost|nearly|except|nope)\b
  | \btoo\s(?:big|small|wide|narrow|tall|short|large|heavy|long)\b
""", re.VERBOSE)

#: what a sentence without a size may point at, and what it may decide of it
_POINTING = re.compile(r"""
    \b(?:one|ones|those|these|both|each|first|second|third|fourth|last|others?|rest|round|oval|square|big|small|large|tall
      |bigger|smaller|larger|mirrors?|panels?|panes?|pieces?|sizes?|heights?|widths?|two|three|four|five|six|seven|eight
      |nine|ten|pair|dozen|\d+)\b
""", re.VERBOSE)
_DECIDING = re.compile(r"""
    \b(?:not|no|\w+n't|cannot|should|may|might|maybe|must|only|just|than|less|more|fewer|down|up|off|add|again|another|too
      |if|unless|but|actually|sorry|instead|or|except|leave|keep|take|changed?|changes|differ\w*|allow\w*|same|like|rather
      |go|gone|skip|swap|swapped|wait|lost|replaced?|forget|cancel|confirm|hold|wrong|than|without|extra|spare|enough|plus|minus|half|double)\b
""", re.VERBOSE)

#: words ahead of the sizes that leave open whether they are ordered
_AHEAD = re.compile(r"""
    \bone\sof\s(?:these|those|the\sfollowing|the\stwo)\b | \bwhichever\b | \beither\sof\b | \bcan't\sdecide\b
  | \b(?:not\ssure|don't\sknow|undecided|unsure)\s(?:\w+\s)?which\b | \bfor\s(?:comparison|information|reference)\b
  | \b(?:not|n't)\s(?:\w+\s)?(?:order|ordering|need|want|buy|buying)\b | \b(?:what|which)\swe\s(?:have|had|got)\b
  | \b(?:frame|visible|sight|daylight|tight|opening|rebate|aperture)\s(?:sizes|dimensions|measurements)\b(?!\s*:)
  | \byou\s(?:made|did|supplied|sold|delivered|quoted)\b | \b(?:we|i)\salready\s(?:have|own|bought|ordered)\b
""", re.VERBOSE)

#: words in a sentence of their own that change a size before them
_BACK = re.compile(rf"""
    \b(?:mm|cm|metres?|meters?|inches|inch|feet)\s?,?\s?not\s(?:in\s)?(?:mm|cm|metres?|meters?|inches|inch|feet)\b
  | \bnot\s(?:in\s)?(?:mm|cm|inches|feet)\b
  | \b(?:other|wrong|opposite)\sway\s(?:round|around|up|about)\b | \bback\sto\sfront\b | \btransposed\b
  | \b(?:mirrored|flipped|handed|opposite\shands?|mirror[\s-]image|left\sto\sright)\b
  | \b(?:swap|swapped|switch|switched|mixed\sup|reverse|reversed|turn|turned)\b.{{0,30}}
      \b(?:width|widths|height|heights|round|around|sides|dimensions|them|it|portrait|landscape)\b
  | \b(?:hold\soff|on\shold|don't\s(?:cut|make|start|order|do)|do\snot\s(?:cut|make|start|order))\b
  | \b(?:the|this|that|these|those|it|them|one|ones|mm|cm|\d)\s(?:\w+\s){{0,6}}
      (?:narrower|wider|taller|shorter|bigger|smaller|larger|longer|higher|lower)\b
  | \b(?:no\slonger|not|n't|never)\s(?:\w+\s){{0,3}}(?:need|needed|want|wanted|require|required|necessary|happening)\b
  | \b(?:don't|won't|needn't|doesn't)\s(?:\w+\s)?(?:need|want|require)\b
  | \b(?:except|excluding|apart\sfrom|leave\sout|but\snot|not\sthe)\b
  | \b(?:these|those|they|all|above|both|sizes?)\b.{{0,30}}\b(?:visible|sight|daylight|tight|openings?|rebates?|recess|
      apertures?|niches?|alcoves?|frames?|outside|external|hole)\b(?!\s(?:mirror|panel|panes|pieces))
  | \b(?:visible|sight|daylight|tight|opening|rebate|aperture)\s{_MEASURES}\b
  | \b(?:instead|rather\sthan|scrap|scratch|cancel|drop|forget|ignore|delete|remove|disregard|strike)\b
  | \bmake\s(?:it|that|them|those|the)\s(?:\w+\s){{0,3}}(?:\d|one|two|three|four|five|six|seven|eight|nine|ten|pair|
      square|round|oval|portrait|landscape)
  | \b(?:double|twice|halve|half)\s(?:the|that|this|as|of|them|it)\b
  | \b(?:only|just)\s(?:\w+\s)?(?:take|want|need|have|order)\s(?:\w+\s)?(?:one|a|the)\b | \bone\sof\s(?:them|these|
      those|the)\b | \bwhichever\b | \beither\b | \b(?:one\sor\sthe\sother|not\sboth)\b
  | \b(?:second|first|third|fourth|last|other|bigger|smaller|larger|former|latter)\s(?:one\s)?
      (?:should|must|needs\sto|is\snow|will\snow|changes?|becomes?|may|might|has\sto|ought)\b
  | \b(?:possibly|perhaps|maybe|might)\s(?:\w+\s){{0,2}}(?:another|third|second|more|fourth|one|two)\b
  | \b(?:down|up|back)\sto\s(?:just\s|only\s)?(?:\d|one\b|two|three|four|five|six|seven|eight|nine|ten|a\spair)
  | \b(?:lose|losing|gain|shave|trim)\b.{{0,20}}\d | \b(?:fewer|one\sless|one\smore|two\smore|an\sextra|a\sfurther)\b
  | \b(?:won't|can't|cannot|not|don't|needn't|never|no)\s(?:\w+\s){{0,2}}(?:have|having|take|taking|bother\w*|do|doing|
      go|going|buy|order|ordering|keep|use|using|proceed)\b.{{0,20}}\b(?:one|ones|it|them|that|those|these|round|oval|
      square|mirrors?|panels?|pieces?|second|third|first|both|two|any)\b
  | \b(?:landscape|portrait)\sor\b | \bsorry,?\s(?:but\s)?(?:i|we|that|the)\b
  | \bi\s(?:got|wrote|typed|measured|put)\b.{{0,20}}
      \b(?:wrong|backwards|round)\b
  | \b(?:will|to\sbe|tbc|yet\sto)\s?(?:confirm\w*|decided?|measured?|checked)\b | \btbc\b
  | \b(?:might|may|could)\s(?:\w+\s)?(?:swap|change|drop|skip|replace|not|need)\b
  | \bhow\smany\b(?!\s(?:working\s)?(?:days|weeks|coats|times)\b)
  | \bthere\s(?:are|is|will\sbe|should\sbe)\s(?:actually\s|only\s|also\s)?
      (?:\d|an?other|two|three|four|five|six|seven|eight|nine|ten|several|a\spair)\b
  | \badd\s(?:\w+\s){{0,2}}\d.{{0,30}}\b(?:side|edge|way|each|all|width|height|both)\b
""", re.VERBOSE)

#: a row that orders something by naming another: “as hall”, “ditto”, “same again”
_LIKE_ANOTHER = re.compile(r"""
    (?:^|[:;-]\s*|\b\d+\s(?:off|no|x|of)?\s*)as\s(?:the\s)?(?!(?:for|to|a|it|they|an|he|she|if|though|such)\b)\w
  | \bditto\b | \bsame\s(?:again|as\s(?!usual))\w* | \b(?:like|as)\s(?:the\s)?(?:above|last\stime|before|previous)\b
  | \bsame\sfor\b | ^\W*(?:and\s|plus\s|also\s)?another\b
      (?!\s(?:\w+\s)?(?:question|thing|point|way|option|time|day|note))
  | \b(?:repeat|another\sof|one\smore\sof)\b
""", re.VERBOSE)


def unheard_beside(item: Item, text: str) -> str:
    """Return the words in a size's own passage that change its meaning and left no trace; "" where none did."""
    if item.doubts or item.gone or item.sense.of or item.deduction is not None or item.sense.changed:
        return ""
    of_some = _words(_OF_SOME, text) if item.quantities[0] > 1 else ""
    return _words(_BESIDE, text) or _words(_TURNING, text) or of_some or told_of(text)


#: what somebody did: “we put a pub mirror over the range”; a story and no order
_TOLD = re.compile(r"""
    \b(?:(?:we|i|they|he|she|it|you|which|that|who)\s(?:\w+\s)?
      |(?:my|our|your|the|his|her|their|an?)\s(?:\w+\s)?\w+\s(?:\w+\s)?)
    ((?:\w{3,}ed)|put|bought|sold|made|gave|took|came|went|saw|wrote|told|found|lost|kept|sent|paid|built|fell|hung
      |stood|cut|let|left|felt|knew|says|thinks|reckons|recommends|suggests|claims|insists|shows|weighs|costs)\b
""", re.VERBOSE)
#: what was done on the way to an order, and what is said of the glass itself
_ON_THE_WAY = frozenset("""needed wanted required liked loved agreed discussed confirmed asked talked promised measured
    decided mentioned called hoped attached enclosed chosen listed marked arrived settled approved specified requested
    delivered collected finished fitted
    antiqued bevelled beveled polished toughened laminated tempered foxed drilled framed silvered mirrored rounded aged
    distressed tinted painted fixed hinged arched arrised seamed smoked sized backed edged glazed mounted eased annealed
    radiused spotted speckled clouded faded stained textured frosted etched coloured colored decayed mottled curved
    shaped recessed rebated embed speed indeed hundred bed red shed""".split())  # noqa: SIM905 - words as words


def told_of(text: str) -> str:
    """Return the words that tell what somebody did or holds, “” where they tell nothing but an order."""
    written = re.sub(r"\s+", " ", plain(text))
    return next((found[0] for found in _TOLD.finditer(written) if found[1] not in _ON_THE_WAY), "")


_COMMON = FILLER | frozenset("""antique antiqued light lightly heavy heavily silver smoky low iron toughened client
    mirror studio when with that from back side wall old black frame clear""".split())  # noqa: SIM905 - words as words
_FINISHING = re.compile(
    r"\b(?:bevel\w*|polish\w*|foxing|finish\w*|back(?:ing|ed)|fixings?|arris\w*|edge\w*|delivery|invoice|samples?)\b")


def is_finishing(text: str) -> bool:
    """Say whether words speak of edges, looks or delivery, and so of no size."""
    return bool(_FINISHING.search(plain(text))) and not re.search(r"\d", text)


_WORKED = re.compile(
    r"\b(?:bevel\w*|polish\w*|arris\w*|toughened|tempered|laminated|low[\s-]iron|safety[\s-]back\w*|pencil\sedge\w*"
    r"|flat\sedge\w*|rounded\scorners?|radius\w*\scorners?)\b")
_UNWORKED = re.compile(r"\b(?:no|not|without|non)\s(?:\w+\s){0,2}(?:bevel|polish|arris|edge|toughen|lamin|temper)")


def is_worked(text: str) -> bool:
    """Say whether words name a working of the glass that is chosen and paid for in the line: bevels, polished edges."""
    return bool(_WORKED.search(plain(text))) and not _UNWORKED.search(plain(text))


_CORRECTING = re.compile(
    r"\b(?:no,?\s(?:wait|sorry|hang on)|(?:hang|hold) on|i mean|rather|sorry|oops|make that|on second thoughts?)\W*$")


_DECIDED = re.compile(
    r"\b(?:agreed|settled|decided|compromised?|opted|plumped|landed|going|go|went|ended\sup)\s(?:on|for|with)\b"
    r"|\bin\sthe\send\b|\b(?:a|the)\scompromise\b|\bfinal\s(?:answer|decision|size)\b|\bverdict\b")


def decides(text: str) -> bool:
    """Say whether words settle on a size after others were weighed: “we have agreed on 850 x 850”."""
    return bool(_words(_DECIDED, text))


def corrects_what_it_follows(text: str) -> bool:
    """Say whether words end in “no wait”: the size that follows stands for this one."""
    return bool(_CORRECTING.search(plain(text)))


#: “call me on …, not the office”
_TO_THE_WRITER = {"call", "ring", "phone", "text", "email", "e-mail", "contact", "reply"}


def unheard_later(tokens: list[Token]) -> bool:
    """Say whether a sentence without a size may change a size before it: its dates, prices and so on aside."""
    said = _said(tokens)
    if tokens and tokens[0].bare in _TO_THE_WRITER:
        return False
    return bool(_words(_BACK, said) or (_words(_POINTING, said) and _words(_DECIDING, said)))


def _said(tokens: list[Token]) -> str:
    return " ".join(token.text for token in tokens if token.kind != "aside")


def named_again(tokens: list[Token], here: list[Item]) -> list[Item]:
    """Return the sizes whose own words a deciding sentence repeats: “might swap the range side”."""
    said = _said(tokens)
    if not _words(_DECIDING, said):
        return []
    return called_in(said, here)


def called_in(said: str, here: list[Item]) -> list[Item]:
    """Return the sizes that words call by their own: “the gym has been scrapped”."""
    words = _own_words(said)
    return [item for item in here if words & _own_words(item.note)]


def _own_words(text: str) -> set[str]:
    return {word for word in re.findall(r"[^\W\d_]{3,}", plain(text)) if not _FINISHING.search(word)} - _COMMON


def leaves_open(text: str) -> bool:
    """Say whether words ahead of the sizes leave open whether those are ordered."""
    return bool(_words(_AHEAD, text))


def orders_like_another(text: str) -> bool:
    """Say whether words without a size order something by naming another."""
    return bool(_words(_LIKE_ANOTHER, text))


def _words(phrases: re.Pattern[str], text: str) -> str:
    written = re.sub(r"\s+", " ", plain(text)).strip()
    found = phrases.search(_HARMLESS.sub(" … ", written))
    return found.group().strip(" :;-") if found else ""
