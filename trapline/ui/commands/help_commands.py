"""First steps, cautions, keys, what is new."""

from trapline import __version__
from trapline.folders import shipped_folder
from trapline.ui.commands.handler import Handler
from trapline.ui.dialogs.text_dialog import show_text
from trapline.ui.menu import COMMANDS

FIRST_STEPS = """\
1. File, Open an example: look around in an invented bait trial; nothing can break.
2. File, New project: one file holds your waters, traps, baits and every trip.
3. Trip, New trip: name the water and the kind of line. The minimum gap follows from the
   kind of line and is yours to change.
4. Lay out: add places. File, Import places reads GPX and CSV; "Add on map" takes clicks;
   the table takes typing; "Add several" measures along a line, a rope or a bearing.
   Gaps that are too short are written on the map and listed under it.
5. Trip, Draw fair order: which bait hangs where. Then print the field sheet.
6. Set, Lift: times and counts. Compare: what may be concluded. Summary: print it.

Every step is saved at once. Undo takes it back, also after closing the program.
"""

CAUTIONS = """\
Local rules come first. Seasons, permits, tags, the number and kind of traps, sizes and
what may be kept differ from place to place and from year to year. This program knows none
of them: ask the authority of your water.

Cold water kills faster than it looks. Wear a lifejacket, go with a partner, tell somebody
on land where you are and when you will be back.

By-catch goes back at once where it was caught, with wet hands. Air-breathing animals drown
in a trap: use excluders and escape openings, and lift often.

Check, clean, dry. Crayfish plague and other diseases travel with wet gear and with bait.
Dry everything fully before another water; do not carry bait, water or animals between waters.

Leave nothing behind: line, cans, lost traps. A lost trap goes on fishing.

Food: cook crayfish and crab through, never eat them raw, and heed local advisories on
toxins and contaminants.
"""

TRUST = """\
In short

- "Winner": it beats each other bait with a chance of at least 97.5 %, or of the trip's
  threshold if that is higher.
- "Leads, not settled": that chance is 80 % or more. Go on fishing before you rely on it.
- "No clear difference": less than 80 %. That does not make the baits equal; it says that these
  traps and nights cannot tell them apart.
- The number of trap sets and rounds behind it stands in the verdict. With few of them only
  large differences can be seen; Compare, Next trip tells how many more it takes.
- A 95 % interval, "1.3 (0.68 to 2.6)", is an estimate and the range that holds the true number
  with a chance of 95 %; how near it comes to that stands in the table below. A ratio of 1 is as
  much as the other bait.
- Traps without bait can never win. What is found holds for this water and season.

What it does not know: bait that is stolen, traps that draw from each other, animals that were
caught before.

The test beside the verdict does not decide it. It deals the baits out again the way they were
dealt (the fair order drawn again, or whole bait histories over the places), and counts how
often the differences come out as large as yours by chance alone: that share is p. It is about
all baits together, so one bait that is far behind makes p small and no other bait a winner.
Where every two baits are tested, p is raised for the number of pairs (the method of Holm), for
among many pairs one looks different sooner or later.

How it is worked out

Each catch is taken as a draw from a negative binomial: chance as with dice, and beyond it
patchiness (k; small k is patchy). Its mean is the bait's rate, times the soak, times a round
good or bad for all, times a place good or bad for all; over several trips also the trip, and
how much baits change from trip to trip. All of these are estimated together from your lifts,
and everything that fits them counts by how well it fits. A rate is what you would get over
the places and rounds that you fished.

Twice the soak is not taken for twice the catch: unless all soaks are alike, how the catch
grows with the soak is estimated too, from less than in step to a little more.

Before any lift something has to be assumed (the prior). Two ways are used, each for what it
does best:
- independent: every bait by itself, within a factor of about twenty of the trip's mean; a trap
  without bait lower and wider. Rates, ratios, intervals and the verdict rest on it.
- shrinking: baits as alike until the lifts say otherwise. The chance of being best rests on
  it, because the best-looking of several baits has often been lucky.
Where the assumption matters, the verdict says so.

How often it is right

In the table below the truth is known, for the trials are simulated. "Held": in how many of 100
trials the 95 % interval held the truth; 95 is right. "False winners": in how many a winner was
named although no bait was better. "Ours" is this program; the others are ways in use: the
highest mean, and the tests of Poisson, quasi-Poisson and negative binomial (NB) fits and of t.
k is patchiness as above: 0.5 is very patchy, 15 hardly. "sd of logs" says how much rounds,
places or baits ("spread") differ: 0.5 makes a good one (one in six) about 1.6 times a usual
one, 0.9 about 2.5 times. A Brier score tells how far stated chances are from what came: less
is better.

"""


class HelpCommands(Handler):
    """The Help menu."""

    def on_first_steps(self) -> None:
        """How a trip goes through the pages."""
        show_text(self.window, "First steps", FIRST_STEPS)

    def on_cautions(self) -> None:
        """Cold water, by-catch, disease, food, local rules."""
        show_text(self.window, "Care and caution", CAUTIONS)

    def on_keys(self) -> None:
        """Every command with its key, from the table of the menus."""
        lines = []
        for command in COMMANDS:
            if command.name:
                key = self.window.actions_by_name[command.name].shortcut().toString()
                if key:
                    lines.append(f"{key:<16}{command.label.replace('&', '').rstrip('…')}")
        lines += [
            "",
            "On the map: + and - zoom, 0 shows all, arrows move the selected place",
            "(with Shift ten times as far), Page Up and Page Down go to the next one, Enter opens",
            "it, Esc gives up a drag, Delete deletes it. Insert adds places by clicks.",
            "In tables: F2, Enter or typing edits a cell, Esc leaves it as it was, Ctrl+C copies",
            "rows, Ctrl+V pastes cells from a spreadsheet as one step.",
            "In the table of places: Insert adds a place, Alt+Up and Alt+Down move it along the",
            "line, Delete deletes it.",
        ]
        show_text(self.window, "Keys", "\n".join(lines), fixed=True)

    def on_changes(self) -> None:
        """The notes of what is new in each version."""
        text = (shipped_folder("resources") / "changes.md").read_text(encoding="utf-8")
        show_text(self.window, "What is new", text)

    def on_about(self) -> None:
        """Version and licence."""
        licence = (shipped_folder("resources") / "LICENSE.txt").read_text(encoding="utf-8")
        show_text(
            self.window,
            "About",
            f"trapline {__version__}\nA log for bait trials with traps.\n\n{licence}",
        )

    def on_trust(self) -> None:
        """What the verdict is made of, and how often it was right in simulated trials."""
        table = shipped_folder("resources") / "study" / "verdict_study.txt"
        text = f"{TRUST}\n{table.read_text(encoding='utf-8')}"
        show_text(self.window, "How far to trust the verdict", text, fixed=True)
