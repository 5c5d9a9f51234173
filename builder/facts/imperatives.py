"""Does a title read as an instruction? A list of the verbs of the trade, and the signs of a title that is not one.

The list is our own, of words that open the steps of operations, ward and anaesthetic work (common practice). A first
word that is on no list and bears no sign of being something else is given the benefit of the doubt: a finding that is
wrong makes people switch findings off.
"""

import re

from builder.grouping import word_set

VERBS = word_set("""
abduct ablate accept access adapt add address adduct adjust administer admit advance agree aim align allow alternate
anaesthetise anastomose anchor angle anticipate apply approach approximate arrange arrest ask aspirate assemble assess
assist attach augment auscultate avoid await balance bandage bare bathe begin bend bevel bind bisect bite bleed block
bluntly bolus book bow brace break breathe bring brush bunch bury bypass calculate call cannulate capture carry cast
catch catheterise cauterise caution cement centre change charge chart chase check choose circumcise cite clamp clarify
clean cleanse clear climb clip close coagulate coat collect come commence compare complete compress confirm connect
consent consider construct continue control convert cool copy correct cough count cover cradle create cross cross-match
crush cup curette cut cycle dab debride decide decompress deepen deflate deflect delay deliver demonstrate
deploy describe detach determine develop dilate dim dip direct disable disarm discard discharge disconnect discuss
disinfect dislocate display dispose dissect dissolve distract dive divide document don double drain drape draw dress
drill drink drive drop dry dust ease eat elevate embed emphasise empty enable encircle encourage end engage enhance
enlarge ensure enter enucleate escort establish estimate evacuate evaluate evert eviscerate examine exchange excise
exclude explain explore expose express extend exteriorise extract extubate fashion fasten feed feel fetch fill fillet
find finish fire fit fix flatten flex flick float flood flush fly focus fold follow force form free freshen gain
gather gently get give glue go gown grasp greet grip groove guard guide hand harvest hasten have heat help hold hook
hydrate hydrodissect hydrodistend identify ignore imbricate immerse immobilise implant implement improve incinerate
incise include incorporate increase indent induce infiltrate inflate inform infuse inject insert inset inspect instil
instill instruct insufflate insulate insure interpose interrogate introduce intubate invaginate invert invite irrigate
isolate jack join keep kneel knot label lace lance lasso lay lead leave lengthen let level lever lie lift ligate light
limit line link list listen load locate lock log look loop loosen lower lubricate maintain make manage manipulate map
mark marsupialise mask massage match measure meet mention mesh milk mind mix mobilise monitor mount move name navigate
nibble nick note notify nudge obliterate observe obtain occlude offer open operate oppose order orient orientate
osteotomise outline overlap oversew pack pad palpate parachute pare part pass paste pause peel penetrate perforate
perform perfuse persist photograph pick pierce pin pinch place plan plaster plicate plug ply point pool position pouch
pour practise preheat preload prep prepare prescribe present preserve press pretension prevent prick prime probe
proceed process prolong pronate protect prove provide pull pulse puncture purse push put quantify question raise rasp
reach read ream reapproximate reassess reassure reattach recall recheck recommend reconnect reconstruct record recount
redrape reduce refer reference reflect refrain refresh regain reinforce reinsert relax release relieve reline reload
remeasure remember remind remove repair repeat replace reply report reposition request rescue resect reserve rest
restart restore resume resuscitate resuture rethread retie retighten retract retrieve return reuse reverse review
revise rewarm ring rinse rock roll rotate roughen round route rub rule run rupture sample save say scan scoop score
scrape screen screw scrub seal search seat section secure see seed seek seize select send separate set settle sever
sew shape share shave sheathe shell shield shift shorten show shower sign silence sit size skeletonise slacken sleep
slide sling slip slit slow smear smoke smooth snap snare snip snug soak soften sort sound spare spatulate speak speed
splay splint split spray spread spring squeeze stab stabilise staple start state stay steady steer stent step
sterilise stick stimulate stitch stop stow straighten strap strengthen stretch strike strip study style substitute
suck suction supinate supplement supply support suppress suspend sustain suture swab sweep swim swing swirl switch
tabulate tack tag tailor take talk tamp tamponade tap tape taper tattoo teach tear tease tell tense tension tent test
thank thicken thin thread throw thump tidy tie tighten tilt time top touch tourniquet trace track transect transfer
transfix transfuse transilluminate translate transplant transport transpose trap treat trephine trim try tuck tug
tunnel turn twist unblock unclamp unclip uncover undercut undermine undo undress unfold unfurl unite unlock unpack
unroll unscrew untie untwist unwrap update use vaccinate vary vent ventilate verify view visit visualise void wad wait
wake walk warm warn wash watch wean wear wedge weigh wet whip widen wind wipe withdraw withhold witness work wrap
write zero
""")

_BEFORE_VERB = word_set("after again always before finally first if never next now once only then when")
_NEGATIONS = word_set("do don't don’t please")
_NO_VERB = word_set("""
a abdomen access adhesiolysis all an anaesthesia anaesthetic anaesthetist anastomosis anatomy and antibiotics any
appendix are arrest arteriotomy artery as assistant at be been being bladder bleeding blood both bowel briefing by can
caution checklist closure consultant could danger debrief debriefing drains drape drapes dressing during each
enterotomy equipment every exposure fascia field for fracture from haemorrhage haemostasis handover he hemostasis her
his how i in indication indications infection injury instruments into is it its kit landmark landmarks layer layers
ligature local may midwife mobilisation muscle must needle nerve nerves no nurse of on or our over patient patients
peritoneum pneumoperitoneum port ports postoperative preoperative procedure set-up setup shall she should sign-in
sign-out skin some specimen surgeon surgery sutures swabs team technique that the theatre their there these they this
those thromboprophylaxis through time-out timeout tissue tissues to trainee trocar under uterus vein vessel vessels
was we were what where which who why will with without would wound you your
""")
_OTHER_ENDINGS = re.compile(
    r"(?:tion|sion|ment|ness|ity|ance|ence|ency|ancy|ology|scopy|tomy|plasty|rrhaphy|asis|esis|itis|oma|aemia|graphy"
    r"|ful|ous|ical|able|ible)$"
)
_NOUN_TAIL = re.compile(
    r"(?:tion|sion|ment|closure|repair|removal|placement|exposure|check|count|control|[a-z]{3,}ing)$"
)
# Verbs that are things as well: before a noun made of a verb they are the thing.
_THINGS_TOO = word_set("""
bandage block cement clamp clip drain drape dress graft hand head leg mark mesh needle pack pin plaster
plate plug port probe screw seal snare splint stent stitch suture swab tape tie tourniquet tube wire
""")
_NO_TAIL = frozenset({"bleeding", "dressing", "positioning"})
_STEMS = {
    "incision": "Cut", "division": "Divide", "identification": "Identify", "closure": "Close", "insertion": "Insert",
    "preparation": "Prepare", "exposure": "Expose", "mobilisation": "Mobilise", "dissection": "Dissect",
    "position": "Position", "removal": "Remove", "placement": "Place", "fixation": "Fix", "ligation": "Tie",
    "excision": "Excise", "delivery": "Deliver", "haemostasis": "Stop the bleeding", "infiltration": "Infiltrate",
    "injection": "Inject", "retraction": "Retract", "application": "Apply", "inspection": "Inspect",
    "reduction": "Reduce", "irrigation": "Irrigate", "protection": "Protect", "repair": "Repair", "control": "Control",
    "count": "Count", "check": "Check", "entry": "Enter", "access": "Open",
}  # fmt: skip
_WORD = re.compile(r"[A-Za-zÀ-ɏ]+(?:['’-][A-Za-zÀ-ɏ]+)*")


def is_instruction(title: str) -> bool:
    """Tell whether ``title`` reads as an instruction, or at least bears no sign that it does not."""
    words = [word.lower() for word in _WORD.findall(title)]
    while words and (words[0] in _BEFORE_VERB or words[0] in _NEGATIONS or _is_adverb(words[0])):
        if words[0] in _NEGATIONS and len(words) > 1:
            return True
        if words[0] in ("when", "once", "if", "before", "after"):
            return True  # a condition comes first, as ASD-STE100 asks; the instruction comes after it
        words = words[1:]
    if not words:
        return False
    first = words[0].removeprefix("re-")
    if first in VERBS or _british(first) in VERBS:
        return not _is_noun_phrase(words)
    return not (first in _NO_VERB or stem(first) or _OTHER_ENDINGS.search(first))


def _is_adverb(word: str) -> bool:
    return word.endswith("ly") and word not in VERBS  # apply, supply, ply


def _british(word: str) -> str:
    """Spell an American verb as the list does: ``cauterize`` is ``cauterise``."""
    return f"{word[:-3]}ise" if word.endswith("ize") else "anaesthetise" if word.startswith("anesthet") else word


def _is_noun_phrase(words: list[str]) -> bool:
    """Tell ``Drain insertion``, a heading, from ``Drain the abscess`` and ``Confirm placement``."""
    return (
        len(words) == 2 and words[0] in _THINGS_TOO and bool(_NOUN_TAIL.search(words[1])) and words[1] not in _NO_TAIL
    )


def stem(word: str) -> str | None:
    """Return the listed verb of which ``word`` is a form (``opening``, ``opened``, ``opens``), or None."""
    for ending in ("ing", "ed", "es", "s"):
        if word.endswith(ending) and len(word) > len(ending) + 2:
            bare = word[: -len(ending)]
            doubled = bare[:-1] if len(bare) > 2 and bare[-1] == bare[-2] else bare
            for candidate in (f"{bare}e", bare, doubled, f"{bare[:-1]}y", f"{bare[:-1]}ie"):
                if candidate in VERBS:
                    return candidate
    return None


def suggestion(title: str) -> str | None:
    """Return the verb that a title such as ``Skin incision`` or ``Opening the canal`` hides, or None."""
    for word in (word.lower() for word in _WORD.findall(title)):
        if word in _STEMS:
            return _STEMS[word]
        found = stem(word)
        if found is not None and word.endswith(("ing", "ed")):
            return found.capitalize()
    return None
