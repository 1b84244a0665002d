"""Help of every screen: its purpose, its keys, an example."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from rich.console import Group
from rich.table import Table
from rich.text import Text
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from tempo_coach.languages import tr
from tempo_coach.report.words.places import say_what_is_steady
from tempo_coach.ui.row_widgets import Card, Foot, say_key
from tempo_coach.ui.screen import LEAVE, CardScreen, Page, scroll_keys
from tempo_coach.ui.text_rows import bar

if TYPE_CHECKING:
    from textual.app import ComposeResult
    from textual.binding import BindingType

    from tempo_coach.ui.palette import Palette


@dataclass(frozen=True)
class Help:
    """The help of one screen.

    Parameters
    ----------
    title : str
        What the screen is called.
    what : str
        What it is for, an empty line between paragraphs.
    keys : tuple of (str, str)
        Keys, and what they do.
    """

    title: str
    what: str
    keys: tuple[tuple[str, str], ...]
    example: str

    @property
    def paragraphs(self) -> tuple[str, ...]:
        """Purpose of the screen, by paragraphs."""
        texts = (" ".join(paragraph.split()) for paragraph in self.what.split("\n\n"))
        return tuple(say_what_is_steady() if text == "{steady}" else tr(text) for text in texts)


HELPS = {
    "today": Help(
        "today",
        """
        Today's practice, made of your own takes and goals: slow and easy to warm up, then blocks on what is least even,
        broke last or has rested long, in mixed order, and one run as in competition. Enter starts what ▸ points to;
        Enter on the card after it starts the next.

        Cues are the sounds to practise to: every cue, every other one, the ones only (where each time round begins), or
        none. What you skip, change or leave undone is kept: the next time today it goes on from there.
        """,
        (
            ("Enter", "start"),
            ("↑ ↓", "choose another one"),
            ("← →", "slower, faster"),
            ("F2", "skip it, or take that back"),
            ("F3", "another of your drills in its place"),
            ("F4", "10, 20 or 40 minutes: planned anew"),
            ("F5", "somebody else's list; a letter: of whom it is the first"),
            ("F6, F7", "the lists of a group on one screen; her hand, level, keys, voice"),
            ("Tab", "the set-up, for whatever else you want to practise"),
        ),
        """with only ten minutes left today: press F4 until 10 minutes stands at the top, then Enter.""",
    ),
    "today's lists": Help(
        "today's lists",
        """
        What each of a group practises today, at how many beats a minute, and how much of it is done. Below stands the
        whole list of the one that ▸ points to.

        On paper: tempo-coach today --group NAME --group NAME --out today.html.
        """,
        (
            ("↑ ↓", "choose another one"),
            ("PgUp PgDn", "scroll her list"),
            ("Enter", "open her list, to practise it"),
        ),
        """who comes next in a training of twelve: ↓ to her name, Enter, and Enter again starts her first drill.""",
    ),
    "set up": Help(
        "set up",
        """
        Here you say what is to be practised. As it stands it is ready: Enter twice, and the drill begins with its
        cues. Whatever you do not change stays as usual for this drill.

        The lower half draws one cycle of the drill: its counts, its phases, and a mark for each circle of each hand.
        Under music you may type a sound file, or a routine with the counts that you put right; then drill has one
        more choice, what the routine has there.
        """,
        (
            ("Enter", "start"),
            ("↑ ↓", "choose a line, or click it"),
            ("← →", "change it, or click ◂ ▸; music, name and numbers are typed"),
            ("letters", "in the line of drills: those with such words in their titles"),
            ("Backspace", "as usual again, or a letter less"),
            ("F4, F5", "make a drill of your own; look at the takes so far"),
            ("F6, F7", "judge a group from its files; her hand, level, keys, voice"),
            ("F2, F3", "a take that was broken off: see its scorecard, or put it by"),
        ),
        """the rope's figure eight at 80 a minute with time to walk in: type fig, go right to it, go
        down to tempo and type 80, go down to walk-in and type 10, press Enter.""",
    ),
    "phones": Help(
        "phones",
        """
        Phones in the same network become a display of the count, fields to tap on, sensors that are worn, or the
        remote. Each scans the code and shows a number; here it gets a role and a name. Each code lets one phone in.

        Worn phones belong into a band at the forearm, the upper arm or the ankle; never in tosses, rolls or over the
        head. Where the network keeps phones apart, as guests' ones do, one phone's hotspot helps.
        """,
        (
            ("← →", "the role of the phone that asks"),
            ("↑ ↓", "whose it is"),
            ("Enter", "let it in; with nobody asking, go on to the drill"),
            ("Backspace", "send it away"),
        ),
        """scan the code, look at the number on the phone, press Enter here: it taps for every hand.""",
    ),
    "a person": Help(
        "a person",
        """
        All that is known of a person, by which her drills are set up: the hand that leads, the keys that she taps
        with, what she hears through. A name put right goes for all of her takes.

        A left hand that leads turns drills round, and so does mirrored. Late by says how much later than they happen
        her taps arrive, where calibrate has not measured it.
        """,
        (
            ("Enter", "keep it, and back"),
            ("↑ ↓", "choose a line, or click it"),
            ("← →", "change it, or click ◂ ▸; name, level and numbers are typed"),
            ("Backspace", "a letter less, or nothing said"),
            ("F5", "keep it, and look at the next person"),
            ("Escape", "back, nothing changed"),
        ),
        """she leads with her left hand: go down to the leading hand, → until left stands there, Enter.""",
    ),
    "new drill": Help(
        "a new drill",
        """
        Here you make a drill of your own. It is drawn as you type, and what cannot be is said at once.

        Circles are said phase by phase: the phase's name, how many circles fall into it, a comma. The phases share the
        cycle equally. The first hand leads, and a second one may come some counts later.

        Enter saves a file with notes in it: open it with any editor to set other ends of phases, other moments, and
        the sentences that help. For the other side of the body choose mirrored in the set-up.
        """,
        (
            ("Enter", "save it, and choose it in the set-up"),
            ("↑ ↓", "choose a line"),
            ("← →", "change it; name and circles are typed"),
            ("Backspace", "a letter less"),
            ("Escape", "back without saving; what you typed stays for the next time"),
        ),
        """clubs in mills, four counts, a circle on each half, the left hand one count later: clubs, 4, “front 1, back
        1”, “right, left”, lag 1.""",
    ),
    "practise": Help(
        "practise",
        """
        Here you practise. The big number is the count; beside it stand the move now and the next one, or what a
        routine has laid; the hill below is the cycle, with a mark for each circle and a post where you are.

        First press a key for each hand: you tap it on each circle of that hand. Or press Enter, and it is J for the
        right hand and F for the left. The count in is four clicks, 5 6 7 8.

        While a take runs only your hands' keys, Enter and Ctrl+Q do anything. The picture may lag a little; the sound
        is what counts. Keep the sound quiet enough to talk over, and stop when something hurts.
        """,
        (
            ("a key", "becomes the key of the hand that is asked for"),
            ("Enter", "usual keys, and start; while a take runs: end it"),
            ("Ctrl+Q", "leave; what was tapped so far is kept"),
        ),
        """press Enter, listen to the four clicks, then tap J with each circle of the right hand until the passage is
        over. The card that follows says what to change.""",
    ),
    "after the take": Help(
        "after the take",
        """
        Here you see how it went: steadier or less steady than the take before, which circle stands apart, which hand,
        and one sentence to take along. Scatter is by how much one cycle is longer or shorter than the others, in per
        cent of it: less is steadier.

        Below stands one row for each cycle, those that broke first: a stroke where a circle was asked, a mark where it
        came. The length is the cycle's, against what was asked: 100 % is even. Of a routine stands one row for each
        of its sections instead, the worst first.
        """,
        (
            ("Enter", "do it again, or go back where it was opened from elsewhere"),
            ("← →", "the next one slower or faster: by 5 % of the music's speed, or 4 beats a minute"),
            ("Tab", "the set-up"),
            ("↑ ↓", "more cycles"),
            ("F2 F7", "choose its film; afterwards: the broken cycle beside her median one"),
            ("F3", "of a take that could not be written: another place for it"),
        ),
        """“second circle 40 ms later than the others” means: begin the second circle a little earlier. A blink takes
        some 150 ms.""",
    ),
    "the film": Help(
        "the film of a take",
        """
        Here you choose the film of the take that was just done; the newest are offered. It is put on the take by the
        music in its sound, and the scorecard appears.

        For each hand say the colour of its marker, tape on club, rope or wrist; without any one hand is followed by
        how it moves, less surely. Where the music cannot be heard, clap once in the picture and give its second on the
        film and on the take.

        How even it was is sure to a few ms. How early or late all of it was is less sure: sound takes 3 ms a metre,
        and phones set sound and picture apart by up to some tens of ms.
        """,
        (
            ("Enter", "read it"),
            ("↑ ↓", "choose a line"),
            ("← →", "another film or colour; clap and what is left out are typed"),
            ("Backspace", "a letter less"),
            ("Escape", "stop reading, or back to the card"),
        ),
        """drop mills.mp4 on this window, go down to right and press → until red stands there, go down to left and
        choose yellow, press Enter.""",
    ),
    "the table": Help(
        "the sensor's table of a take",
        """
        Here you choose the table that a sensor on the wrist or the apparatus wrote while the take was done. Its circles
        are counted, it is put on the take where it fits best, and the scorecard appears.

        Where the header does not say what the columns are, you are asked once: they are listed with their ranges and
        how often they were read, and you choose. It is kept for all tables with the same header.

        Where it fits best says nothing of early and late as a whole. For that, clap or knock once where the sensor
        feels it, and give its second in the table and on the take.
        """,
        (
            ("Enter", "read it"),
            ("↑ ↓", "choose a line"),
            ("← →", "what the columns are; table and clap are typed"),
            ("Backspace", "a letter less"),
            ("Escape", "stop reading, or back to the card"),
        ),
        """drop wrist.csv on this window and press Enter; if asked, go down to columns, press → until accelerations in g
        stands there, and Enter again.""",
    ),
    "another place": Help(
        "another place for a take",
        """
        A take could not be written where takes are kept: the disk is full, or its folder may not be written to. It is
        in memory alone and gone when you leave, unless you write it somewhere else here.

        Type a folder, and it keeps its name there; or a file's name. All takes that have no place yet are written.
        Later, when there is room again, the history takes them in: tempo-coach history --take-in FILE.
        """,
        (
            ("Enter", "write it"),
            ("Backspace", "a letter less"),
            ("Escape", "back to the card; the take stays in memory"),
        ),
        """put a stick into the computer, type the name of its folder, or drop it on this window, and press Enter.""",
    ),
    "set up a group": Help(
        "a group",
        """
        Here you say what a group is held against, and what there is of each member: a phone's recording, a film, a
        table, a take, a number of the history or her newest take. The arrows lead through what was found near; whatever
        else there is can be typed or dropped on this window. With each member that is named comes a line for one more.

        Each recording is put on the music that is heard in it. Without music one clap that all of them recorded before
        they begin sets the clocks. A routine as music brings its marks: canon, mirrored hands, unison, exchanges.
        """,
        (
            ("Enter", "judge them; their card opens"),
            ("↑ ↓", "choose a line, or click it"),
            ("← →", "what can be chosen there"),
            ("Escape", "back, or stop reading"),
        ),
        """five phones lay beside five gymnasts: put their recordings into a folder, choose the music, go down to
        member 1, press → until the folder stands there, and press Enter.""",
    ),
    "group": Help(
        "a group",
        """
        Here you see whether a group is together: who is early, who is late, on which eights it falls apart, and who
        follows whom. Early and late are told against the plan, and for each member against the others.

        Together is 1 when all do the same at the same instant, early or late; chance is what members would reach who
        do not hear each other. From first to last is how far the first and the last lie apart, on average.
        """,
        (
            ("Tab", "what else there is"),
            ("1 to 9, 0, a to t", "the card of a member: the key before her name"),
            ("↑ ↓", "more rows"),
            ("Enter", "back to the form, where the group was chosen there"),
        ),
        """the eight with the widest range is the one to rehearse first: press Tab for eight by eight, and look for the
        longest row.""",
    ),
    "map": Help(
        "map of the music",
        """
        The music eight by eight: how loud and how dense it is, its strong accents and where its character changes, and
        what is laid there. A toss, a change of dynamics or a row of dance steps belongs where the music does something.
        """,
        (
            ("↑ ↓", "other eights"),
            ("Enter", "back to the counts"),
        ),
        "A circle laid on count 3 where the accent is on 5 can be moved in the counts: two counts later.",
    ),
    "live group": Help(
        "a group that moves",
        """
        Each member taps a key of her own, or a phone, or wears one. While the cues play every row shows where she is
        now beside the middle of the others: early at the left, late at the right, by her newest eight onsets. A word
        stands there only where it is beyond chance and beyond what the phones' clocks leave open.

        When the take is over, the card of the group comes up by itself.
        """,
        (
            ("Enter", "start; end the take; again"),
            ("Tab", "the card of the newest take"),
            ("F6", "let phones in: each gets the name of a member"),
        ),
        """who stands at one side all the time hears the cues later or has a slower phone: see the card before you say
        so.""",
    ),
    "history": Help(
        "the history",
        """
        Here are all takes that were kept, the newest first, and below them whether it gets steadier. Everything stays
        on this machine. The tempo is in beats a minute; = behind it says that the take was steady. A take that is
        somebody else's or that broke is put right by its number: tempo-coach correct 12 --to Bea.

        {steady}
        """,
        (
            ("letters", "show only takes that have these words: athlete, drill, note"),
            ("Backspace", "a letter less; Escape shows all again"),
            ("↑ ↓", "choose a take; a click does it too, and a second one opens it"),
            ("Enter", "open it, against the one before it"),
            ("Tab", "mark it, to set another one beside it"),
            ("F2", "write a note on it"),
            ("F3, F4", "write a table of these takes, or a page of this one"),
        ),
        """type rope to see the takes with the rope, go down to one, press Tab, go to another one and press Enter: both
        stand side by side.""",
    ),
    "two takes": Help(
        "two takes side by side",
        """
        Here two takes stand side by side, the earlier one at the left: how early or late they were on the whole, how
        far they scatter, and each circle for itself. Minus is early, plus is late.

        The sentence below says whether one is steadier than the other beyond chance. With two different drills it says
        nothing of the kind.
        """,
        (("Enter", "back to the list"),),
        """a circle with +30 ms ± 12 comes 30 ms late, and two times in three within 12 ms of that: always late, so it
        can be put right by one thought. With ± 40 it is all over the place: slow down first.""",
    ),
}


class HelpScreen(CardScreen[None], ModalScreen[None]):
    """The help of one screen, which it returns to."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f1,escape,enter", "back", "back", key_display="F1"),
        *scroll_keys("more"),
        LEAVE,
    ]

    def __init__(self, told: Help) -> None:
        super().__init__()
        self._told = told

    def compose(self) -> ComposeResult:
        """Make head, text and foot."""
        yield Card(self._draw_main, id="main")
        with VerticalScroll(can_focus=False):
            yield Static(lay_out(self._told, self._palette))
        yield Foot(lambda: self.note)

    def on_mount(self) -> None:
        """Follow the text as it scrolls."""
        text = self.query_one(VerticalScroll)
        for name in ("scroll_y", "virtual_size"):
            self.watch(text, name, self._draw_soon)

    def _draw_soon(self) -> None:
        self.call_after_refresh(self.draw)

    def draw_page(self, width: int, height: int) -> Page:
        """Return the head, and how much of the text is below its lower edge."""
        text = self.query_one(VerticalScroll)
        head = bar(tr(" Help: {title}", title=tr(self._told.title)), "", width, self._palette)
        return Page([head][:height], round(text.scroll_y), round(text.max_scroll_y - text.scroll_y))

    def action_scroll(self, by: int) -> None:
        """Scroll."""
        self.query_one(VerticalScroll).scroll_relative(y=by, animate=False)


def lay_out(told: Help, palette: Palette) -> Group:
    """Return the whole help of a screen as a rich renderable for any width."""
    keys, example = (Table.grid(padding=(0, 2, 0, 0)) for _ in range(2))
    for shown, does in told.keys:
        keys.add_row(Text(say_key(tr(shown)), palette.strong), Text(tr(does), palette.text))
    example.add_row(Text(tr("Example"), palette.strong), Text(tr(" ".join(told.example.split())), palette.text))
    paragraphs = (Text(f"{paragraph}\n", palette.text) for paragraph in told.paragraphs)
    return Group(*paragraphs, keys, Text(), example)
