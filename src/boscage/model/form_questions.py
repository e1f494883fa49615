"""What the three field forms ask: site visit, check, capture.

Nobody is asked for a name: people go by their role. Cautions stand where somebody can be hurt, and give way to the law
of the place. What the records must hold is common practice, no source, except where a sentence names one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from boscage.model.evidence import SIGN_KINDS
from boscage.model.forms import OTHER, SITES, Choice, Form, Question, Repeat
from boscage.model.ledger import ANIMAL_CLASSES, STATES

ACCURACY_M = 10
"""Accuracy at which a place is taken by itself, metres. Common practice, no source."""
WORST_ACCURACY_M = 30
"""Worst accuracy of a place that is let pass, metres: places of one set 50 m apart are asked about in the log."""
MOST_ANIMALS, MOST_HOURS, MOST_DAYS, MOST_BAIT, MOST_BLOWS, DEEPEST, HEAVIEST = 500, 500, 365, 5000, 500, 300, 1000
"""Greatest answers that are let pass, in the unit of the question; those of the log where it has one."""

NIGHT_HINT = (
    "A night has the date of its evening. What happens before noon belongs to the evening before: a capture at 03:10 "
    "on the 12th belongs to the night of the 11th."
)
LAW = "The law of the place, the permit and the landowner's agreement come before this form."
NO_NAMES = "Roles only, no names of people."

_NOW = "decimal-date-time(now())"
_TOO_LATE = "That is still to come."


def _list(**labels: str) -> tuple[Choice, ...]:
    return tuple(Choice(name=n, label=t) for n, t in labels.items())


YES_NO = _list(yes="Yes", no="No")
ROLES = _list(
    operator="Field operator", crew="Crew or rigger", pilot="Pilot or helicopter manager",
    landowner="Landowner or manager", supervisor="Agency supervisor", other="Somebody else",
)  # fmt: skip
SIGNS = (*_list(none="No sign"), *(Choice(name=k, label=k.capitalize()) for k in SIGN_KINDS))
AGES = _list(
    A="A: less than 24 hours old", B="B: 1 to 3 days old", C="C: 4 to 14 days old", D="D: more than 14 days old"
)  # fmt: skip
STATE_LABELS: Mapping[str, str] = {
    "prebait": "Prebait: bait out, no net up", "open": "Open: net up, tied so that it cannot come down",
    "armed": "Armed: net up and ready to come down",
}  # fmt: skip
LEFT = (
    *(Choice(name=s, label=STATE_LABELS[s]) for s in STATES),
    *_list(pulled="Pulled: gear taken away", none="No set here"),
)
FOUND = (
    *(Choice(name=s, label=STATE_LABELS[s]) for s in STATES),
    *_list(down="Down: the net has come down", pulled="Pulled: nothing here any more"),
)
CLASSES: Mapping[str, Mapping[str, str]] = {
    units: {
        "boar": "Boar: grown male", "sow": "Sow: grown female", "yearling": "Yearling or shoat",
        "piglet": f"Piglet: striped or under about {weight}",
    }
    for units, weight in (("us", "20 lb"), ("metric", "9 kg"))
}  # fmt: skip
SEXES = _list(female="Female", male="Male", unknown="Not told")
WEIGHED = _list(scale="On a scale", tape="By a tape", estimated="Estimated")
INJURIES = _list(
    none="None seen", minor="Minor: scrapes, small cuts", moderate="Moderate: deep cut, broken tooth or claw",
    severe="Severe: broken bone, wound into the body", unseen="Not looked at",
)  # fmt: skip
FATES = _list(
    killed="Killed at the set", dead="Found dead", escaped="Escaped", released="Let go",
    moved="Moved alive, where the law allows it",
)  # fmt: skip
OTHER_FATES = _list(
    released="Let go unhurt", hurt="Let go hurt", escaped="Got out by itself", dead="Found dead", killed="Killed"
)  # fmt: skip


def make_form(name: str, units: str = "us") -> Form:
    """One of the three forms, its questions in US customary or metric units.

    Weights go by the unit at the end of their question's name, so that an answer tells its own unit.
    """
    return FORMS[name](units)


def _visit(units: str) -> Form:
    long, short = ("in", "0.1 in") if units == "us" else ("cm", "2.5 mm")
    mass = "lb" if units == "us" else "kg"
    items = (
        *_opening(
            "Before you start: look up for dead tops and hung limbs before you stand under a tree. Hard hat and eye "
            "protection while a line is thrown or tightened, gloves on rope. Nobody under a net that is up. " + LAW
        ),
        Question(
            type="date", name="date", label="Date of the visit", required=True, default="today()",
            constraint=". <= today()", message=_TOO_LATE,
            hint="The state below holds from the evening of this date. After midnight give the date of the day before.",
        ),
        *_site(),
        _who("who", "Who was there, by role"),
        Question(
            type="geopoint", name="place", label="Where the set stands or would stand",
            hint="Stand at the middle and wait for the accuracy; under trees step into the nearest gap and walk back.",
            constraint=f"number(selected-at(., 3)) <= {WORST_ACCURACY_M}",
            message=f"The accuracy is worse than {WORST_ACCURACY_M} m; wait for a better fix.",
            parameters=f"capture-accuracy={ACCURACY_M} warning-accuracy={2 * ACCURACY_M}",
        ),
        *_sign(short), *_footing(long), *_state(), *_bait(mass),
        _hours("Person-hours of the visit, ways included"),
        Question(
            type="image", name="photo", label="Photo", parameters="max-pixels=1600",
            hint="The place and the trees; no people, no gate codes, no number plates.",
        ),
        _note(),
    )  # fmt: skip
    lists = {
        SITES: (), "yes_no": YES_NO, "roles": ROLES, "signs": SIGNS, "ages": AGES, "left": LEFT,
    }  # fmt: skip
    return Form(
        name="visit", title="Site visit", items=items, lists=lists,
        shown_as="concat(${site_name}, ' visit ', ${date})",
    )  # fmt: skip


def _sign(rain: str) -> tuple[Question, ...]:
    seen = "${sign} != 'none'"
    return (
        Question(type="select_one", name="sign", label="Freshest sign here", choices="signs", required=True),
        Question(
            type="select_one", name="sign_age", label="Age of that sign", choices="ages", required=True, relevant=seen,
            hint="A moist, dark, edges crisp. B dry on top, edges softening. C crusted, outline only. D regrown or "
            "packed by rain. Hard dry ground ages slowly. Choose one.",
        ),
        Question(
            type="integer", name="rain_days", label=f"Days since at least {rain} of rain",
            constraint=_within(MOST_DAYS), message=_words(MOST_DAYS), hint="Leave empty if nobody knows.",
            relevant=seen,
        ),
    )  # fmt: skip


def _footing(unit: str) -> tuple[Question, ...]:
    return (
        Question(
            type="select_one", name="trees_sound", label="Are all trees that would carry the net sound?",
            choices="yes_no", hint="Live, no dead top, no crack, no lean into the ring. Leave empty if not looked at.",
        ),
        Question(
            type="note", name="caution_trees", relevant="${trees_sound} = 'no'",
            label="Put no load on a tree that is not sound, and do not work under it. Choose other trees, or another "
            "site.",
        ),
        Question(
            type="integer", name="stake_blows", label="Stake test: hammer blows", constraint=_within(MOST_BLOWS),
            message=_words(MOST_BLOWS),
            hint="One test stake, the same hammer each time. Gloves and eye protection. Leave empty if not tried.",
        ),
        Question(
            type="decimal", name=f"stake_depth_{unit}", label=f"Stake test: depth reached, {unit}",
            constraint=_within(DEEPEST), message=_words(DEEPEST), relevant="${stake_blows} != ''",
        ),
    )  # fmt: skip


def _state() -> tuple[Question, ...]:
    return (
        Question(
            type="select_one", name="state", label="State that you leave the set in", choices="left", required=True
        ),
        Question(
            type="note", name="caution_armed", relevant="${state} = 'armed'",
            label="From now on the net can come down on people too. Nobody goes under it before it is tied off. Arm it "
            "only when somebody has taken on the next check, and those who finish a capture can come in time.",
        ),
    )  # fmt: skip


def _bait(mass: str) -> tuple[Question, ...]:
    labels = {"bait_out": f"Bait put out, {mass}", "bait_left": f"Bait found left over, {mass}"}
    return tuple(
        Question(type="decimal", name=f"{n}_{mass}", label=t, constraint=_within(MOST_BAIT), message=_words(MOST_BAIT))
        for n, t in labels.items()
    )


def _check(units: str) -> Form:
    items = (
        *_opening(
            "Look from afar first. If animals are inside, stop: they hit the net hardest when people come near. One "
            "approach only, by those who finish the job. " + LAW
        ),
        *_site(),
        _moment("arrived", "Date and time of arrival, 24-hour local time", required=True),
        Question(type="select_one", name="found", label="State found", choices="found", required=True),
        Question(type="select_one", name="inside", label="Animals in the set?", choices="yes_no", required=True),
        Question(
            type="note", name="caution_inside", relevant="${inside} = 'yes'",
            label="Keep back until everybody and everything that is needed is there. Then fill in the capture form.",
        ),
        Question(
            type="dateTime", name="next_due", label="Next check due, 24-hour local time",
            constraint="decimal-date-time(.) > decimal-date-time(${arrived})", message="That is before you arrived.",
            hint="As the law, the permit or the supervisor says, whichever is soonest. Empty if nothing is armed.",
        ),
        Question(
            type="select_one", name="staffed", label="Has somebody taken on that check?", choices="yes_no",
            required=True, relevant="${next_due} != ''",
        ),
        Question(
            type="note", name="caution_staffed", relevant="${staffed} = 'no'",
            label="A set that nobody will check must not stay armed: tie the net up before you leave.",
        ),
        _hours("Person-hours of the check, ways included"),
        _note(),
    )  # fmt: skip
    lists = {SITES: (), "yes_no": YES_NO, "found": FOUND}
    return Form(
        name="check", title="Check", items=items, lists=lists, shown_as="concat(${site_name}, ' check ', ${arrived})"
    )


def _capture(units: str) -> Form:
    items = (
        *_opening(
            "Rubber gloves, eye protection and boots that can be disinfected before you touch an animal, blood or the "
            "net. Cover cuts, do not eat or smoke, keep dogs away. One approach only; no shot through the mesh; nobody "
            "else comes near until it is over. Animals dead or sick without a cause: touch nothing and call the "
            "animal-health office. How animals may be killed, moved or left, the law of the place says. " + LAW
        ),
        *_site(),
        Question(
            type="date", name="night", label="Night of the capture, by the date of its evening", required=True,
            hint=NIGHT_HINT, constraint=". <= today()", message=_TOO_LATE,
        ),
        Question(type="text", name="group", label="Group", hint="Its name on the group card. Empty if not known."),
        _count("known", "Number known in that group", hint="Members at the last count. Leave empty if not counted."),
        *_times(),
        _who("observers", "Who took part, by role"),
        _hours("Person-hours of the capture, all who came, to the last load out"),
        Repeat(name="animals", label="Animal", questions=_animal("lb" if units == "us" else "kg")),
        Question(
            type="select_one", name="nontarget", label="Was any other species in the set?", choices="yes_no",
            required=True, hint="Collared peccary is no feral pig and is often protected.",
        ),
        Repeat(
            name="nontargets", label="Animal of another species", questions=_nontarget(),
            relevant="${nontarget} = 'yes'",
        ),
        Question(
            type="image", name="photo", label="Photo of the whole catch", parameters="max-pixels=1600",
            hint="No people.",
        ),
        _note(),
    )  # fmt: skip
    classes = tuple(Choice(name=c, label=CLASSES[units][c]) for c in ANIMAL_CLASSES)
    lists = {
        SITES: (), "yes_no": YES_NO, "roles": ROLES, "classes": classes, "sexes": SEXES, "weighed": WEIGHED,
        "injuries": INJURIES, "fates": FATES, "other_fates": OTHER_FATES,
    }  # fmt: skip
    return Form(
        name="capture", title="Capture", items=items, lists=lists,
        shown_as="concat(${site_name}, ' night of ', ${night})",
    )  # fmt: skip


def _times() -> tuple[Question, ...]:
    noon = "decimal-date-time(${night})"
    within = f"decimal-date-time(.) >= {noon} + 0.5 and decimal-date-time(.) < {noon} + 1.5"

    def after(name: str) -> str:
        at = f"decimal-date-time(${{{name}}})"
        return f"(${{{name}}} = '' or (decimal-date-time(.) >= {at} and decimal-date-time(.) < {at} + 1))"

    return (
        _moment(
            "closed", "Time the net came down", constraint=within, hint="Leave empty if nobody knows.",
            message="That is not in the night above, which runs from noon of its date to the next noon, or is still to "
            "come.",
        ),
        _moment(
            "approached", "Time of the first approach by people", constraint=after("closed"),
            message="That is before the net came down, or more than a day after, or still to come.",
        ),
        _moment(
            "finished", "Time the last animal was dead", constraint=f"{after('closed')} and {after('approached')}",
            message="That is before the approach, or more than a day after, or still to come.",
            hint="Leave empty if none was killed.",
        ),
    )  # fmt: skip


def _animal(mass: str) -> tuple[Question, ...]:
    return (
        Question(type="select_one", name="class", label="Class", choices="classes", required=True),
        _count("count", "How many", required=True, default="1", low=1, hint="1, or more of one class and one fate."),
        Question(type="select_one", name="sex", label="Sex", choices="sexes"),
        Question(
            type="decimal", name=f"weight_{mass}", label=f"Weight, {mass}", relevant="${count} = 1",
            constraint=f". > 0 and . <= {HEAVIEST}", message=f"More than 0, at most {HEAVIEST}.",
        ),
        Question(
            type="select_one", name="weighed", label="How the weight was got", choices="weighed", required=True,
            relevant=f"${{weight_{mass}}} != ''",
        ),
        Question(type="text", name="marks", label="Marks", hint="Coat, ears, tags, scars."),
        Question(type="select_one", name="injury", label="Injury from the set", choices="injuries", required=True),
        Question(type="select_one", name="fate", label="What became of it", choices="fates", required=True),
        Question(type="text", name="samples", label="Sample numbers", hint="As written on the tubes, by commas."),
    )  # fmt: skip


def _nontarget() -> tuple[Question, ...]:
    return (
        Question(
            type="note", name="caution_nontarget",
            label="Let it go first unless the law or the permit says otherwise: cutters at hand, a hood, people to one "
            "side. Antlers and hooves hurt people too. Report it to the wildlife officer.",
        ),
        Question(type="text", name="species", label="Species", required=True, hint="The plain name, one animal each."),
        Question(
            type="select_one", name="other_fate", label="What became of that animal", choices="other_fates",
            required=True,
        ),
    )  # fmt: skip


def _opening(caution: str) -> tuple[Question, ...]:
    """Times that the app writes down by itself, and the caution."""
    return (
        Question(type="start", name="start"), Question(type="end", name="end"),
        Question(type="note", name="caution", label=caution),
    )  # fmt: skip


def _site() -> tuple[Question, ...]:
    is_other = f"${{site}} = '{OTHER}'"
    return (
        Question(type="select_one", name="site", label="Site", choices=SITES, required=True),
        Question(
            type="text", name="site_other", label="Name of that place", required=True, relevant=is_other,
            hint="Short, easy to say on the radio, and the same each time.",
        ),
        Question(
            type="calculate", name="site_name",
            calculation=f"if({is_other}, ${{site_other}}, jr:choice-name(${{site}}, '${{site}}'))",
        ),
    )  # fmt: skip


def _who(name: str, label: str) -> Question:
    return Question(type="select_multiple", name=name, label=label, hint=NO_NAMES, choices="roles", required=True)


def _moment(
    name: str, label: str, *, required: bool = False, constraint: str = "", message: str = _TOO_LATE, hint: str = ""
) -> Question:
    rule = f"decimal-date-time(.) <= {_NOW}"
    return Question(
        type="dateTime", name=name, label=label if "24-hour" in label else f"{label}, 24-hour local time", hint=hint,
        required=required, constraint=f"{rule} and {constraint}" if constraint else rule, message=message,
    )  # fmt: skip


def _count(
    name: str, label: str, *, required: bool = False, default: str = "", low: int = 0, hint: str = ""
) -> Question:
    return Question(
        type="integer", name=name, label=label, required=required, default=default, hint=hint,
        constraint=_within(MOST_ANIMALS, low), message=_words(MOST_ANIMALS, low),
    )  # fmt: skip


def _hours(label: str) -> Question:
    return Question(
        type="decimal", name="hours", label=label, constraint=_within(MOST_HOURS), message=_words(MOST_HOURS),
        hint="Of everybody together: two people for 1.5 hours are 3.",
    )  # fmt: skip


def _note() -> Question:
    return Question(type="text", name="note", label="Note", appearance="multiline", hint=NO_NAMES)


def _within(most: int, low: int = 0) -> str:
    return f". >= {low} and . <= {most}"


def _words(most: int, low: int = 0) -> str:
    return f"From {low} to {most}."


FORMS: Mapping[str, Callable[[str], Form]] = {"visit": _visit, "check": _check, "capture": _capture}
"""The three forms by name."""
