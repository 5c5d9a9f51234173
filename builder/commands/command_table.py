"""The table of commands: how each is called, what its help says, and an example of each use.

Nothing is imported here that takes long: a check whose findings are kept must not wait for engines it does not need.
"""

from dataclasses import dataclass
from typing import Any

from builder.compose.slides import LENGTHS


@dataclass(frozen=True, slots=True)
class Flag:
    """An option, which may stand anywhere among the words: ``flag``, followed by a ``value`` unless that is empty."""

    flag: str
    about: str
    value: str = ""
    name: str = ""
    choices: tuple[str, ...] = ()
    repeated: bool = False
    required: bool = False

    @property
    def key(self) -> str:
        """The name under which a command finds what was given."""
        return self.name or self.flag.strip("-").replace("-", "_")

    @property
    def settings(self) -> dict[str, Any]:
        """What argparse is told of it."""
        if not self.value:
            return {"dest": self.key, "help": self.about, "action": "store_true"}
        action = "append" if self.repeated else "store"
        return {"dest": self.key, "help": self.about, "action": action, "metavar": self.value}


@dataclass(frozen=True, slots=True)
class Word:
    """A word that has its place by order: its ``name`` in capitals, what it is, and whether it can be left out."""

    name: str
    about: str
    optional: bool = False

    def __str__(self) -> str:
        return f"[{self.name}]" if self.optional else self.name


@dataclass(frozen=True, slots=True)
class Command:
    """One row. ``name`` is what is typed, of one word or two; the module of the first word holds what is run."""

    name: str
    words: tuple[Word, ...]
    about: str
    options: tuple[Flag, ...]
    examples: tuple[str, ...]
    more: str = ""

    @property
    def usage(self) -> str:
        """The command with its words and what else it needs, as it is typed."""
        needed = (f"{option.flag} {option.value}" for option in self.options if option.required)
        return " ".join(["prescrub", self.name, *map(str, self.words), *needed])

    @property
    def function(self) -> str:
        """The name of the function that runs it, in the module that the first word names."""
        return "_".join(["run", *self.name.split()[1:]])


_FOLDER = Word("FOLDER", "the department's folder (default: the folder you are in)", optional=True)
_IN = Flag("--in", "another way to name FOLDER", "FOLDER", "folder")
_ONLY = Flag(
    "--only", "make only this output, such as site, card or handout; may be given more than once", "OUTPUT",
    repeated=True,
)  # fmt: skip
_CLUSTER = Flag("--cluster", "the address of a dask scheduler whose workers make the files", "ADDRESS")
_JOBS = Flag("--jobs", "how many processes of this machine work at once (default: one a processor)", "NUMBER")
_STYLE = Flag("--style", "the style of references (default: the department's own)", "STYLE")

COMMANDS = (
    Command(
        "start",
        (Word("FOLDER", "a new folder for the department"),),
        "Start a department from nothing, with its first procedure begun. What is not given is asked.",
        (
            Flag("--name", "the name of the department", "TEXT"),
            Flag("--call", "a role and the number to call; may be given more than once", '"ROLE, NUMBER"',
                 repeated=True),
            Flag("--approver", "a role that may approve; may be given more than once", "ROLE", repeated=True),
            Flag("--procedure", "the title of the first procedure", "TITLE"),
            Flag("--from", "what to start from; without it, you are asked a few questions", "FILE", "source"),
        ),
        ("prescrub start our-department",
         'prescrub start our-department --name "Our surgery" --procedure "Open appendicectomy" --from talk.vtt'),
    ),
    Command(
        "draft new",
        (Word("TITLE", "the title of the procedure, in quotation marks"), _FOLDER),
        "Start a procedure from a talk, slides or an old outline, or by answering a few questions.",
        (Flag("--from", "what to start from; without it, you are asked a few questions", "FILE", "source"),),
        ('prescrub draft "Open appendicectomy"',
         'prescrub draft "Open appendicectomy" --from old-outline.md',
         'prescrub draft new "Open appendicectomy" my-department --from talk.vtt'),
        "FILE is a numbered outline (.md, .txt, .docx), slides (.pptx), or the words of a talk with their times\n"
        "(.vtt, .srt, or .md with [m:ss]). What is proposed says `proposed: true` until you have read it. Nothing\n"
        "that was said is lost: what found no place is kept in notes.md.",
    ),
    Command(
        "draft confirm",
        (Word("FILE", "a step, caution or aftercare item, or the folder of a whole procedure"), _FOLDER),
        "Confirm that you have read what a draft proposed; the mark `proposed: true` is taken out.",
        (Flag("--confirm", "another way to name FILE; may be given more than once", "FILE", "file", repeated=True),),
        ("prescrub draft confirm content/procedures/example/steps/open-canal.md",
         "prescrub draft --confirm content/procedures/example my-department"),
    ),
    Command(
        "draft translation",
        (
            Word("PROCEDURE", "the id of a procedure"),
            Word("LANGUAGE", "the language of the patient's sheet, such as de"),
            _FOLDER,
        ),
        "Write the patient's words of a procedure into a file for a translator, or renew that file.",
        (),
        ("prescrub draft translation example de", "prescrub draft translation example ar my-department"),
        "What is translated and still holds is kept. What was translated from words that have changed since stands\n"
        "at the end, under `# Earlier`.",
    ),
    Command(
        "lay",
        (
            Word("A", "a draft: the id of a procedure, or a folder with one"),
            Word("B", "another one of the same operation"),
            *(Word(name, "one more", optional=True) for name in "CDE"),
        ),
        "Lay several experts' drafts of one operation side by side, and say what each left out.",
        (_IN, Flag("--title", "also write one draft out of them, under this title", "TEXT")),
        ("prescrub lay example my-department",
         'prescrub lay example my-department --title "The operation of both"'),
        "Steps are matched by what they do. What only one says is kept with `said_by`; what they say differently\n"
        "is left to be chosen, in notes.md.",
    ),
    Command(
        "preview",
        (_FOLDER,),
        "Show page, card and slides in your browser while you write.",
        (
            Flag("--port", "the port to use (default: any that is free)", "NUMBER"),
            Flag("--no-browser", "print the address and open no browser"),
            Flag("--editor", "the command or address that opens {path} at {line} in your editor "
                 "(default: PRESCRUB_EDITOR)", "HOW"),
        ),
        ("prescrub preview my-department",
         "prescrub preview --no-browser --port 8080",
         "prescrub preview --editor 'someeditor --line {line} {path}'"),
        "Only this computer can reach it, and only the browser that was let in. End it with Ctrl-C.",
    ),
    Command(
        "check",
        (_FOLDER,),
        "Check that everything holds together, and print what does not.",
        (
            Flag("--ask", "print an interview sheet: the questions that steps, cautions and aftercare leave open"),
            Flag("--fill", "put the answers of a filled-in interview sheet into their places", "FILE"),
            Flag("--mend", "show which wording can safely be changed, then change it"),
            Flag("--yes", "with --mend: change it without asking first"),
            Flag("--coverage", "also print how much there was to look at, procedure by procedure"),
            Flag("--explain", "print what each finding blocks: a draft, review, an approval, an issue or nothing"),
            Flag("--fresh", "check everything again, even where nothing has changed since the last time"),
            Flag("--format", "how findings are printed: text, json or sarif (default: text)", "FORM",
                 choices=("text", "json", "sarif")),
        ),
        ("prescrub check my-department",
         "prescrub check my-department --ask > questions.md",
         "prescrub check my-department --fill questions.md",
         "prescrub check --coverage",
         "prescrub check --mend"),
    ),
    Command(
        "approve",
        (Word("PROCEDURE", "the id of a procedure: the name of its folder"), _FOLDER),
        "Show what changed since the last approval, what was checked and what is open; then ask, and write it.",
        (
            Flag("--as", "the role in which you approve, as content/department.md names it", "ROLE", "role",
                 required=True),
            Flag("--name", "your name (without it, you are asked)", "NAME"),
            Flag("--key", "sign with this private SSH key of yours, by ssh-keygen", "FILE", "key_file"),
            Flag("--yes", "change or approve it without being asked first"),
        ),
        ('prescrub approve example --as "clinical lead"',
         'prescrub approve example my-department --as "clinical lead" --name "Bea Example" --yes'),
        "The owner and the authors cannot approve. What is clinical is covered, pictures included: an edit of it is a\n"
        "draft again. Owner, review date and numbers to call may change. The ledger keeps who approved what, and\n"
        "whether it was signed; ledger/signers lists whose keys are believed.",
    ),
    Command(
        "share",
        (Word("PROCEDURE", "the id of a procedure: the name of its folder"), _FOLDER),
        "Write a procedure as a word-processor file, for a committee to mark.",
        (Flag("--to", "the file to write; it ends in .docx", "FILE", required=True),),
        ("prescrub share example --to committee.docx",),
        "Every paragraph carries an id that nobody sees, so that what is marked comes back to its place.",
    ),
    Command(
        "take",
        (Word("FILE", "the committee's copy, as it came back: a .docx or an .odt"), _FOLDER),
        "Show what a committee changed and asked, each at its place, and take what you accept.",
        (Flag("--accept", "take these: all, or numbers as shown, such as 1,3,4; may be given more than once", "WHAT",
              repeated=True),),
        ("prescrub take committee.docx", "prescrub take committee.docx my-department --accept all"),
        "Without --accept you are asked about each one; where there is no terminal, nothing is written. Comments are\n"
        "kept in notes.md until you answer them. What has no certain place is told and never taken.",
    ),
    Command(
        "local",
        (
            Word("PAGE", "the name of a file in content/local/: the id of a procedure, or department", True),
            Word("NUMBER", "which of its changes, counted from 1", True),
        ),
        "List what is changed here in what the parent wrote, or choose where the parent has changed since.",
        (
            _IN,
            Flag("--keep", "keep ours, knowing what the parent says now"),
            Flag("--take", "take the parent's: the entry goes, and the file of our own that it speaks of"),
        ),
        ("prescrub local --in my-department",),
        "What waits for a choice is marked with !, with both texts. Until somebody has chosen, no code is issued. To\n"
        "choose, name it as it is listed: `prescrub local example 2 --keep`, or `--take`.",
    ),
    Command(
        "year",
        (_FOLDER,),
        "Print the year at a glance: reviews, approvals, sources, drafts, and copies in circulation.",
        (Flag("--format", "how it is printed: text or json (default: text)", "FORM", choices=("text", "json")),),
        ("prescrub year my-department", "prescrub year --format json"),
        "What waits for somebody is marked with !. The site has the same tables at year/index.html, with a calendar\n"
        "of the reviews, a feed of the editions, and a map of who may do which step.",
    ),
    Command(
        "publish",
        (_FOLDER,),
        "Publish site, handouts, pocket cards, slides and sheets; or nothing, if there is an error.",
        (
            Flag("--to", "the folder to publish to; it is replaced as a whole", "DIR", required=True),
            _ONLY,
            Flag("--session", "also cut the slides to 10, 20 or 40 minutes, with the teacher's plan; may be given "
                 "more than once", "MINUTES", choices=tuple(map(str, LENGTHS)), repeated=True),
            Flag("--issue", "write the codes of approved editions into the ledger, ledger/issued.jsonl"),
            _JOBS, _CLUSTER,
        ),
        ("prescrub publish my-department --to public",
         "prescrub publish --only card --to cards",
         "prescrub publish --to public --only slides --session 20"),
    ),
    Command(
        "region publish",
        (Word("FOLDER", "the folder of region.yml (default: the folder you are in)", optional=True),),
        "Publish all departments of a region; one that fails stays on its last good site.",
        (
            Flag("--to", "the folder to publish to; each department has a folder in it", "DIR", required=True),
            _ONLY, _CLUSTER,
        ),
        ("prescrub region publish my-region --to public --only site",),
        "exit code 1: a department stayed on its last good site, and the last lines say which and why.",
    ),
    Command(
        "changes",
        (
            Word("OLD", "an earlier state: a folder, a revision that git knows, or the code of an edition"),
            Word("NEW", "a later state, named in the same way (default: the department as it is now)", optional=True),
        ),
        "Print what changed for a reader between two editions, step by step.",
        (
            _IN,
            Flag("--procedure", "tell of this procedure only; it is needed with --to", "ID"),
            Flag("--to", "also write the notice as a PDF to pin up", "FILE"),
            Flag("--format", "how changes are printed: text or json (default: text)", "FORM", choices=("text", "json")),
        ),
        ("prescrub changes HEAD",
         "prescrub changes last-year this-year --format json",
         "prescrub changes last-year --procedure example --to changed.pdf"),
        "What is only worded otherwise is counted. Where it is not sure that nothing else changed, it is told.",
    ),
    Command(
        "sources list",
        (_FOLDER,),
        "Print the register of sources: what rests on each, and what to review first.",
        (_STYLE, _IN),
        ("prescrub sources", "prescrub sources my-department", "prescrub sources list --style vancouver"),
    ),
    Command(
        "sources show",
        (Word("KEY", "the key of a source"), _FOLDER),
        "Print everything that rests on one source, down to the issued copies.",
        (_STYLE, _IN),
        ("prescrub sources hernia-nerve-management-2007",
         "prescrub sources show hernia-nerve-management-2007 my-department"),
    ),
    Command(
        "sources add",
        (Word("FILE", "sources from elsewhere: .bib, .ris, .nbib (PubMed) or CSL-JSON"), _FOLDER),
        "Add sources to references/sources.bib, and show what was found in them, retractions first.",
        (_IN,),
        ("prescrub sources add export.ris", "prescrub sources add export.ris my-department"),
        "Sources that are already there stay as they are. A record that cannot be used is named with its line, and\n"
        "the others are added. Put it right in the file, then add the file again: nothing is added twice.",
    ),
    Command(
        "sources notices",
        (Word("FILE", "a public list of retractions, as a .csv file"), _FOLDER),
        "Keep what a public list of retractions says about your sources.",
        (_IN,),
        ("prescrub sources notices retractions.csv",),
    ),
    Command(
        "schema",
        (Word("KIND", "the kind of file, such as step, caution or procedure (default: all of them)", optional=True),),
        "Print the JSON Schema of a kind of file, so that your editor can help you write it.",
        (Flag("--to", "write one file for each kind into this folder", "DIR"),),
        ("prescrub schema step", "prescrub schema --to .schemas"),
    ),
)  # fmt: skip
"""All commands, in the order in which help lists them."""

SHORT_FORMS = (
    ("prescrub draft TITLE [FOLDER]", "draft new"),
    ("prescrub draft --confirm FILE [FOLDER]", "draft confirm"),
    ("prescrub sources [FOLDER]", "sources list"),
    ("prescrub sources KEY [FOLDER]", "sources show"),
)
"""What is typed, and the command it stands for. What could mean two things asks for the full form."""

HELP = Flag("--help", "print this help")
VERSION = Flag("--version", "print the version")


def commands_of(first: str) -> tuple[Command, ...]:
    """Return the commands that begin with the word ``first``."""
    return tuple(command for command in COMMANDS if command.name.split()[0] == first)
