"""Names that are in no catalogue: what kind of thing they are, by their last word; and what names nothing at all."""

import re
from collections.abc import Iterable
from typing import NamedTuple

from builder.draft.phrases import THINGS_TOO
from builder.draft.proposal import ProposedAction, ProposedEntry
from builder.draft.verbs import NUMBER_WORDS
from builder.edit.ids import slug
from builder.grouping import word_set
from builder.model.library import Library

_STRUCTURES = {
    "vessel": """artery vein vessel trunk branch tributary varicosity perforator aorta cava arteriole aneurysm stump
    twig
        bleeder pedicle leash graft_vein fistula profunda haemorrhoid pile""",
    "nerve": "nerve plexus root cord ganglion",
    "duct": "duct ureter urethra canaliculus",
    "viscus": """gland lobe bowel colon ileum jejunum caecum stomach bladder uterus ovary tube fundus antrum cervix
    kidney
        liver spleen lung prostate testis sac cyst tumour tumor lump lesion polyp adenoma node specimen tonsil adenoid
        mucosa organ segment remnant fibroid nodule goitre placenta clot thrombus haematoma stone plaque matrix pouch
        loop_of_bowel anastomosis stoma limb contents pole pylorus head_of_pancreas parenchyma slough debris oesophagus
        serosa wall appendage tail apex pus abscess lining capsule tissue granulation membrane effusion scar biopsy
        urine bile blood fluid_in adhesion thymus breast eyelid flap ellipse disc strip graft corner edge margin end
        orifice opening hole window lip cuff_of_bladder neck cholesteatoma os fragment base""",
    "ligament": "ligament raphe gubernaculum frenulum mesentery mesocolon mesoappendix pulley retinaculum band",
    "fascia": """fascia sheath aponeurosis peritoneum pleura pericardium dura fat omentum platysma tunica dartos dermis
        periosteum perichondrium leaf layer adventitia mesorectum galea hiatus platysma subcutis film septum
        membrane""",
    "muscle": "muscle sphincter sartorius psoas tendon deltoid gastrocnemius soleus triceps biceps strap slip",
    "bone": """bone rib sternum femur tibia fibula radius ulna humerus skull lamina vertebra cartilage head canal
        cortex osteophyte fracture lip_of_bone spur plate_of_bone stem_of_bone xiphoid mandible clavicle patella
        condyle""",
    "skin": "skin wound incision cut flaps_of_skin nail foreskin scalp areola scar eschar ear lip",
    "cavity": """cavity space joint pocket sinus abdomen chest pelvis belly tunnel bursa bed compartment gutter groin
        axilla fossa""",
    "landmark": "line plane point angle triangle groove",
}  # fmt: skip
_ITEMS = {
    "instrument": """forceps clamp scissors probe hook elevator curette laparoscope camera scope endoscope cystoscope
    proctoscope
        clamp bulldog spatula sucker trocar port cannula dilator saw drill burr reamer broach chisel osteotome awl
        rongeur
        punch tenaculum vulsellum applicator gag speculum snare introducer resectoscope stapler dermatome perforator
        obturator guide crusher mosquito haemostat grasper babcock manipulator stripper sheath rasp impactor tamp sizer
        dissector needle-holder bougie ring cutter trial component jig""",
    "retractor": "retractor retractors self-retainer langenbeck deaver lever spreader",
    "blade": "blade scalpel knife",
    "swab": "swab pledget patty peanut gauze-ball sponge towel pad_of_gauze",
    "pack": "pack wick ribbon tampon gauze packing",
    "needle": "needle",
    "suture": """suture stitch stay tie ligature loop knot purse-string seton bite mattress nought oh nylon silk
    absorbable running subcuticular
        interrupted monofilament polyglactin polydioxanone thread""",
    "clip": "clip staple",
    "drain": "drain",
    "catheter": "catheter tube stent nasogastric shunt balloon tracheostomy",
    "line": "line sling sloop tape wire guidewire",
    "implant": """mesh plate screw nail stem cup prosthesis implant graft patch valve grommet pin rod cement peg washer
        lead generator pacemaker pessary plug head_of_prosthesis buttress button pellet conduit cage bolt liner
        insert""",
    "drug": """anaesthetic local antibiotic antibiotics drug heparin adrenaline steroid oxytocin glue marcain block
    relaxant
        spinal syntocinon protamine dye contrast cefuroxime co-amoxiclav flucloxacillin tranexamic_acid""",
    "fluid": """saline water fluid solution wash washout lavage iodine chlorhexidine peroxide jelly gel oil litre
    litres betadine
        aqueous""",
    "dressing": """dressing plaster bandage gauze_pad pad wool sponge_dressing foam film_dressing tulle padding
        backslab slab steristrips strips""",
    "device": """tourniquet roll pillow bag board table light microscope monitor electrode pads triangle bolster bump
    stocking boots
        diathermy traction ring-block plate_for_diathermy goggles tray ventilator""",
    "garment": "sling_for_arm support bra binder stockings collar drape gown towel_drape splint cast",
}  # fmt: skip
NO_OBJECT = word_set("""
bubble centimetre millimetre width patient thing way hand finger fingertip thumb bleeding side place position area field
time size length room operation procedure step top bottom middle front back rest help result case day minute second hour
question job chapter stage part look bit lot idea sort kind moment word name number touch feel care view light picture
everything anything nothing something one ones midline me him her patient man woman child baby boy girl people surgeon
bite breath turn go pull push tension pressure bleed haemostasis hold distance inch foot_of_distance bed_of_patient gap
control direction eye voice story rule reason trick key answer fact step trouble problem mistake danger risk pain mind
note chart book list form report theatre ward clinic trolley dish pot laboratory lab track route plan reach order shape
colour count half third quarter inch finger's-breadth hand's-breadth clock o'clock nurse boss registrar assistant sister
anaesthetist colleague team them it that this those these cross circle smile zigzag star ladder arch sense grip stroke
degrees degree millimetres centimetres fingers hands eyes thumbs tip tips hand-held teeth jaws handle handles pulse
hair curved lateral medial midline flap_of_hair
sort spot half table mark sign machine lights reading screen note tick sip cough weather
""")
_SINGULAR = re.compile(r"(?<=[a-z]{2}[^su])s$|(?<=sh|ch)es$")
_IRREGULAR = {"arteries": "artery", "branches": "branch", "ovaries": "ovary", "biopsies": "biopsy", "glands": "gland",
"tributaries": "tributary",
              "varicosities": "varicosity", "vertebrae": "vertebra", "testes": "testis", "cavities": "cavity",
              "patties": "patty", "knives": "knife",
              "nodes": "node", "mucosae": "mucosa", "bodies": "body", "cords": "cord", "leaves": "leaf"}  # fmt: skip
_KINDS = {
    **{word: (True, kind) for kind, words in _STRUCTURES.items() for word in words.split()},
    **{word: (False, kind) for kind, words in _ITEMS.items() for word in words.split()},
}
_PLAIN_LIST = f"""
the a an my your our his her its their this that these those each every both all some any another no half same other
little big small large long short soft fine wee nice good bad old new first last next single whole few couple more own
proper tiny gentle simple careful huge thin thick tight loose clean dirty wet dry warm cold hot heavy light deep
decent generous plain usual whole actual main free careful stout sharp blunt damp couple running continuous interrupted
simple very far near left right well only opposite remaining spare second third fourth quick neat separate several
{" ".join(NUMBER_WORDS)}
"""
_PLAIN = frozenset(_PLAIN_LIST.split())
_PARTS = word_set("""
edge end wall top rest bit piece sliver half pair couple loop side front back bottom middle lots lot number litre
litres layer
layers row couple few drop drops inch tip remains sort kind run length one two three four each all both some part mouth
centimetre millimetre sheet stump bite strip roof floor surface face leaf pieces bits dose
""")
_WORD = re.compile(r"[^\W_]+(?:[-/.'’][^\W_]+)*")


_LEADING = word_set("the a an my your our his her its this that these those each every both another one two three four")
_NO_NOUN = re.compile(r"(?:ing|ed|wards|ly|al|ior|ous|ive|ful|less|est|er)$", re.IGNORECASE)


class NewName(NamedTuple):
    """A name that is in no catalogue: its ``name`` without the words that only describe, and what it is."""

    name: str
    is_structure: bool
    kind: str
    is_sure: bool


def singular(word: str) -> str:
    """Return a noun in the singular, as far as its ending tells."""
    low = word.casefold()
    return _IRREGULAR.get(low) or _SINGULAR.sub("", low)


def kind_of(word: str) -> tuple[bool, str] | None:
    """Return whether the noun names a structure, and its kind; None where it is not known."""
    return _KINDS.get(word.casefold()) or _KINDS.get(singular(word))


def new_name(said: str, *, is_structure: bool, is_done: bool = False) -> NewName | None:
    """Return what ``said`` names; None where it names nothing of which an action could speak.

    ``is_structure``: what its verb is done to, where its last word does not tell. ``is_done``: something is surely
    done to it, so that it need not look like a name.
    """
    words = _WORD.findall(said)
    low = [word.casefold() for word in words]
    if len(low) == 1 and low[0] in THINGS_TOO:  # "stay in the midline": of one thing there is "a stay", or two "stays"
        return None
    if "of" in low:
        at = low.index("of")
        before, after = words[:at], words[at + 1 :]
        if before and (
            singular(before[-1]) in _PARTS or before[-1].casefold() in _PARTS or before[-1].casefold() in NO_OBJECT
        ):
            return new_name(" ".join(after), is_structure=is_structure, is_done=is_done) or _bare(before, is_structure)
        head = _bare(before, is_structure)
        tail = [word for word in after if word.casefold() not in _PLAIN]
        return head._replace(name=f"{head.name} of {' '.join(tail)}") if head and tail else head
    return _bare(words, is_structure, is_done=is_done)


def _bare(words: list[str], is_structure: bool, *, is_done: bool = False) -> NewName | None:
    kept = [word for word in words if word.casefold() not in _PLAIN and not word[0].isdigit()]
    while kept and kept[-1].casefold() in ("ones", "one", "there", "alone"):
        kept.pop()
    if not kept or singular(kept[-1]) in NO_OBJECT or kept[-1].casefold() in NO_OBJECT:
        return None
    if len(kept) == 1 and singular(kept[0]) in _PARTS:
        return None
    kept = kept[-3:]
    known = kind_of(kept[-1])
    if known is None and not is_done and (words[0].casefold() not in _LEADING or _NO_NOUN.search(kept[-1])):
        return None
    structure, kind = known or (is_structure, "landmark" if is_structure else "device")
    return NewName(
        " ".join(kept).casefold() if not any(word.isupper() for word in kept) else " ".join(kept),
        structure,
        kind,
        known is not None,
    )


def proposed_entries(actions: Iterable[ProposedAction], library: Library) -> tuple[ProposedEntry, ...]:
    """Return the entries that ``actions`` need and no catalogue has, each once, in the order in which they are
    needed."""
    entries: dict[str, ProposedEntry] = {}
    for action in actions:
        if action.verb in ("count", "tell"):
            continue
        places = [str(name) for key, name in action.more if key in ("in", "on")]
        tools = [str(name) for key, name in action.more if key == "with"]
        is_structure = action.verb not in ("place", "remove", "inject", "irrigate")
        for name, of_structure in (
            *((name, is_structure) for name in action.objects),
            *((name, True) for name in places),
            *((name, False) for name in tools),
        ):
            if library.structures.find(name) or library.items.find(name):
                continue
            known = kind_of(name.split()[-1])
            kind = known[1] if known and known[0] is of_structure else "viscus" if of_structure else "device"
            if kind == "landmark" and action.verb not in ("identify", "inspect", "expose"):
                kind = "fascia"
            entries.setdefault(slug(name), ProposedEntry(name, kind, of_structure))
    return tuple(entries.values())
