"""Journal titles and their NLM abbreviations.

The abbreviation a source brings itself (``shortjournal``, as PubMed exports do) comes first; this table helps where a
.bib contains only the full title. Titles of one word are never shortened. The abbreviations are those of the NLM
Catalog, written from memory; a title that is not here is printed as written, and a check says so.
"""

_TABLE = """
academic medicine = Acad Med
acta anaesthesiologica scandinavica = Acta Anaesthesiol Scand
acta obstetricia et gynecologica scandinavica = Acta Obstet Gynecol Scand
american journal of health-system pharmacy = Am J Health Syst Pharm
american journal of nursing = Am J Nurs
american journal of obstetrics and gynecology = Am J Obstet Gynecol
american journal of surgery = Am J Surg
anaesthesia and intensive care = Anaesth Intensive Care
anesthesia and analgesia = Anesth Analg
anesthesiology and pain medicine = Anesth Pain Med
annals of emergency medicine = Ann Emerg Med
annals of internal medicine = Ann Intern Med
annals of surgery = Ann Surg
annals of the royal college of surgeons of england = Ann R Coll Surg Engl
annals of thoracic surgery = Ann Thorac Surg
archives of surgery = Arch Surg
arthroscopy, sports medicine, and rehabilitation = Arthrosc Sports Med Rehabil
bjog: an international journal of obstetrics and gynaecology = BJOG
bjs open = BJS Open
bmc medical education = BMC Med Educ
bmc medicine = BMC Med
bmc neurology = BMC Neurol
bmc pregnancy and childbirth = BMC Pregnancy Childbirth
bmc surgery = BMC Surg
bmj open = BMJ Open
bmj quality and safety = BMJ Qual Saf
bone and joint journal = Bone Joint J
british journal of anaesthesia = Br J Anaesth
british journal of surgery = Br J Surg
british medical journal = Br Med J
canadian journal of anaesthesia = Can J Anaesth
canadian journal of surgery = Can J Surg
chest = Chest
clinical orthopaedics and related research = Clin Orthop Relat Res
cochrane database of systematic reviews = Cochrane Database Syst Rev
critical care medicine = Crit Care Med
diseases of the colon and rectum = Dis Colon Rectum
educational psychologist = Educ Psychol
emergency medicine journal = Emerg Med J
european journal of anaesthesiology = Eur J Anaesthesiol
european journal of cardio-thoracic surgery = Eur J Cardiothorac Surg
hand surgery = Hand Surg
international journal of obstetric anesthesia = Int J Obstet Anesth
international journal of surgery = Int J Surg
jama surgery = JAMA Surg
jmir cancer = JMIR Cancer
journal of applied psychology = J Appl Psychol
journal of bone and joint surgery (american volume) = J Bone Joint Surg Am
journal of bone and joint surgery (british volume) = J Bone Joint Surg Br
journal of clinical anesthesia = J Clin Anesth
journal of experimental psychology = J Exp Psychol
journal of hand surgery = J Hand Surg Am
journal of hand surgery (european volume) = J Hand Surg Eur Vol
journal of hospital infection = J Hosp Infect
journal of medical internet research = J Med Internet Res
journal of obstetrics and gynaecology = J Obstet Gynaecol
journal of orthopaedic surgery and research = J Orthop Surg Res
journal of pain research = J Pain Res
journal of surgical education = J Surg Educ
journal of surgical research = J Surg Res
journal of the american college of surgeons = J Am Coll Surg
journal of the american medical association = JAMA
journal of trauma and acute care surgery = J Trauma Acute Care Surg
lancet = Lancet
lancet infectious diseases = Lancet Infect Dis
local and regional anesthesia = Local Reg Anesth
medical education = Med Educ
medical teacher = Med Teach
muscle and nerve = Muscle Nerve
nature medicine = Nat Med
new england journal of medicine = N Engl J Med
north clin istanb = North Clin Istanb
obstetrics and gynecology = Obstet Gynecol
orthopaedic journal of sports medicine = Orthop J Sports Med
patient education and counseling = Patient Educ Couns
plastic and reconstructive surgery = Plast Reconstr Surg
plos medicine = PLoS Med
plos one = PLoS One
postgraduate medical journal = Postgrad Med J
proceedings of the national academy of sciences of the united states of america = Proc Natl Acad Sci U S A
psychological science = Psychol Sci
psychological science in the public interest = Psychol Sci Public Interest
pulmonary medicine = Pulm Med
regional anesthesia and pain medicine = Reg Anesth Pain Med
seminars in perinatology = Semin Perinatol
surgical endoscopy = Surg Endosc
surgical infections = Surg Infect (Larchmt)
surgical innovation = Surg Innov
surgical science = Surg Sci
united european gastroenterology journal = United European Gastroenterol J
world journal of emergency surgery = World J Emerg Surg
world journal of surgery = World J Surg
"""

_SHORT = dict(line.split(" = ") for line in _TABLE.strip().splitlines())


def _same(title: str) -> str:
    words = title.casefold().replace("&", "and").replace("’", "'").split()
    return " ".join(words[1:] if words[:1] == ["the"] and len(words) > 1 else words)


def abbreviation(title: str) -> str | None:
    """Return the NLM abbreviation of the plain ``title``; itself where it is one word or short already; or None."""
    same = _same(title)
    if same in _SHORT:
        return _SHORT[same]
    return title if " " not in title.strip() or same in _ABBREVIATED else None


_ABBREVIATED = frozenset(_same(short) for short in _SHORT.values())
