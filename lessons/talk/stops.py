"""The stops of the talk, in order. Add one by copying a neighbour; tests/lessons/test_talk.py holds it to its claims."""

from __future__ import annotations

from coilmodel.sparks import EFFECTIVE
from lessons.panels import PANELS, bad_coils, meters
from lessons.talk.stop import Claim, Objection, Step, Stop, picture_at, value_of

CAUTION = (
    "The secondary can exceed 20 kV, and a condenser keeps its charge when everything is off: discharge it before touching "
    "blades or terminals. Keep fuel vapour away from sparks, hands and sleeves away from belts and flywheels, and people with a "
    "pacemaker away from a running coil. Local codes and licensed practice come first."
)
CAUTION_SAID = CAUTION.replace("20 kV", "twenty kilovolts")

CLOSING = "One pulse, one spark, and a strong one: tried as fast as you drive."
GOING_ON = "Go on by yourself: every panel of tonight is in the course, with the lessons behind it."
NO_ADDRESS = "It is a folder: ask for a copy, and open index.html in it."

CUSHION = PANELS["cushion"].defaults()["preload"]
SLACK, STIFF = round(bad_coils.SLACK * CUSHION, 2), round(bad_coils.STIFF * CUSHION, 2)
VIBRATOR = PANELS["vibrator"].defaults()["preload"]
FIFTH_MORE = round(1.2 * VIBRATOR, 2)
RESISTANCE = PANELS["magneto_speed"].defaults()["resistance"]
BAD_JOINT = {"resistance": RESISTANCE + 0.5}
WELL_SET = {symbol: PANELS["same_reading"].defaults()[symbol] for symbol in ("preload", "vibrator_preload")}
TWIN = {symbol: round(share * WELL_SET[symbol], 2) for symbol, share in zip(WELL_SET, meters.TWIN, strict=True)}
BY_HAND = {"rpm": 200.0}

LIGHTS = 1e3 * EFFECTIVE  # mJ
SPARKS, CURRENT, TIME = "Sparks per pulse", "Opening current", "Opening time"
FOLLOW, SPEED, ENERGY = "Follow travel", "Parting speed", "Spark energy, first spark"
ARC, MISFIRES = "Arc energy as they part", "Misfires, all speeds together"
_UNBROKEN, _SLOWEST, _BEHIND = "Unbroken current, peak", "Slowest speed that fires", "Current comes after the EMF by"
_HERE, _CEILING, _SPARK = "Unbroken current here", "Ceiling: flux over inductance", "Spark energy"
_PITCH, _A_SECOND, _FIRES = "Pitch of the buzz", "Sparks a second", "First spark"
WEAK = Claim(ENERGY, 0.0, 0.99 * LIGHTS)
SEMITONE = meters.SEMITONE

STOPS = (
    Stop(
        "thursday", "The coil that passes on Thursday", "cushion", 2.5, 2,
        "This is the story of one coil. On Thursday evening it is tried on the bench: somebody turns the crank by hand, and "
        "there is a clean spark in every pulse. So it goes back into the car. On Sunday, on the open road, the engine misses.",
        "On Thursday this coil gives one clean spark in every pulse. On Sunday the engine misses. What would you look at first?",
        "At the cushion spring: it is too slack. Turned by hand it can still follow; on the road it cannot, the points burn, and "
        "the spark is too weak.",
        (
            Step(
                "Keep your answer; we shall need it. Here is that coil on Thursday. Read the picture from the bottom up. A row "
                "is one pulse of the magneto, a mark is a spark, and from left to right the crank turns. A good coil draws one "
                "straight column. So does this one, and its spark is a sound one, {Spark energy, first spark}. Nobody would send "
                "it back.",
                "A word on where such a picture comes from. Nothing in it is drawn by hand, and nothing is a recording. A model "
                "of a coil, with its springs and its contacts, is run while we look. The coil is invented, and so is its car. "
                "What you can take home is the shape of a thing, not its size. And now to the box, for we cannot say what is "
                "wrong with a thing before we know what it does when it is right.",
                "Point: a row is a pulse, a mark is a spark. Write the guesses of the room on a board.",
                claims=(Claim(SPARKS, 1.0, 1.0), Claim(ENERGY, 12.0, 60.0)),
            ),
        ),
        ("ladder",), ("rpm",), (SPARKS, ENERGY), {"preload": SLACK, **BY_HAND},
        (
            Objection(
                "That is only a model.",
                "It is, and it says so. No real coil was measured for it yet. Its sums were held against a circuit simulator and "
                "against figures that others have published, and the course has a page with every one of them, the poor ones "
                "too. So take nothing from me on trust: try it on your own coil.",
            ),
        ),
    ),
    Stop(
        "box", "What is in the box", "box", 3, 2,
        "What is in the box? An iron core with two windings, a condenser, and on top of it all two blades, one above the other, "
        "each with a contact.",
        "Which moves first when the current comes: the upper contact, the lower one, or both together?",
        "Both together. They part only when the upper contact meets its rivet and the lower one goes on alone.",
        (
            Step(
                "Both together. The core pulls the lower blade down: that is the vibrator. The upper blade, the cushion spring, "
                "presses on from above, and so the two contacts come down as a pair, still closed. Then a rivet stops the upper "
                "one. The lower one goes on alone, and that is the moment when they part, {Opening time} after the pulse began.",
                "Watch it once more. Down together. The rivet. Apart. The spark, over there in the gap of the plug. And closed "
                "again, ready for the next pulse. The picture is slowed five hundred times. Everything that we shall talk about "
                "happens in those few thousandths of a second, in tenths of a millimetre, and inside a closed box. No wonder "
                "that there are opinions. Remember the word rivet, for it matters more than all the rest.",
                "Press Play. Then pull the time to the parting and back.",
                claims=(Claim(SPARKS, 1.0, 1.0), Claim(TIME, 1.0, 8.0)),
            ),
            Step(
                "And if there is a real coil on the table tonight: " + CAUTION_SAID,
                label="Before you touch one",
            ),
        ),
        ("scene",), (), (CURRENT, TIME),
    ),
    Stop(
        "current", "Where the current comes from", "magneto", 2.5, 0,
        "The magnets of the flywheel sweep past the coils of the magneto. Every passing is a push on the current, one way and "
        "then the other.",
        "The current comes from the push of the magnets. Does it rise and fall together with that push?",
        "No: it comes later, here by {Current comes after the EMF by} of crank, because inductance lets it grow only slowly.",
        (
            Step(
                "No. It comes after. The winding is slow to let a current grow; that is what inductance means. With the contacts "
                "held shut, the dashed curve, the current would peak {Current comes after the EMF by} of crank behind the push. "
                "The coil does not wait for that. At {Opening current} it pulls its own contacts apart.",
                "Think of a heavy gate. You push, and it does not move at once; you let go, and it does not stop at once. The "
                "current is that gate, and the magnets push it once this way and once that way, for as long as the crank turns.",
                "Follow the dashed curve and the push with a finger.",
                claims=(Claim(_BEHIND, 5.0, 11.25), Claim(SPARKS, 1.0, 1.0), Claim(CURRENT, 4.0, 6.0)),
            ),
            Step(
                "Turned slowly it is another machine. The push is smaller, the current would come only to "
                "{Unbroken current, peak}, and it keeps closer to the push. Keep that in mind: slow and fast are two tests, not "
                "one.",
                label="Turn it slowly", values={"rpm": 150.0},
                claims=(Claim(_BEHIND, 0.0, 0.8, "current"), Claim(_UNBROKEN, 0.0, 0.8, "current")),
            ),
        ),
        ("strips.emf", "strips.current"), ("rpm", "drive"), (_UNBROKEN, _BEHIND, CURRENT),
    ),
    Stop(
        "faster", "Is faster better?", "magneto_speed", 2, 0,
        "So faster ought to be better: the magnets pass more often, and they push harder.",
        "Turn the crank twice as fast: do you get twice the current?",
        "No. At driving speed {Unbroken current here} of a ceiling of {Ceiling: flux over inductance} flow already. At the hand "
        "crank you gain a good deal.",
        (
            Step(
                "No. At the hand crank you gain a good deal. At driving speed next to nothing: the current runs into a ceiling "
                "of {Ceiling: flux over inductance}, and here we are at {Unbroken current here} already. The faster the magnets "
                "pass, the harder they push, and the less time they give the current to grow. The two cancel.",
                "Our coil needs some speed before it fires at all, about {Slowest speed that fires}. Below that the current is "
                "never strong enough to pull the contacts apart.",
                "Take the speed from the left end to the right.",
                claims=(
                    Claim(_HERE, 1.0, 1.1, "faster", {"rpm": 900.0}), Claim(_HERE, 0.3, 0.65, "faster", {"rpm": 100.0}),
                    Claim(_SLOWEST, 60.0, 200.0),
                ),
            ),
            Step(
                "Now half an ohm of bad joint. The ceiling has not moved, but the slowest speed that fires has gone up from "
                "{Slowest speed that fires@faster} to {Slowest speed that fires}. A coil that is dead by hand and well on the "
                "road has a joint or a magneto to look at first. That is not our coil. Ours is well by hand and fails on the "
                "road.",
                label="Half an ohm of bad joint", values=BAD_JOINT,
                claims=(Claim(_CEILING, 0.999, 1.001, "faster"), Claim(_SLOWEST, 1.3, 5.0, "faster")),
            ),
        ),
        ("charts.speed",), ("rpm", "resistance"), (_HERE, _CEILING, _SLOWEST),
    ),
    Stop(
        "race", "What the condenser is for", "condenser_race", 3, 2,
        "The contacts part, and now the current is in the way. It has weight, so to speak: it does not stop because we would "
        "like it to.",
        "When the contacts part, where does the current go?",
        "Into the condenser, until the contacts are far enough apart. The spark gets {Spark energy}, the points hardly an arc.",
        (
            Step(
                "Into the condenser. It is a race. The solid curve is the voltage across the points, and it climbs. The dashed "
                "curve is what the gap between them can hold, and it grows as they move apart. While solid stays under dashed "
                "there is hardly an arc, and the energy goes where we want it: {Spark energy} into the spark.",
                "Note what the condenser does not do. It does not bring that energy. As the contacts part it is empty. The "
                "energy sits in the field of the coil, and the condenser only takes the current for the moment that the contacts "
                "need to get out of each other's way.",
                "Point at the solid curve, then at the dashed one.",
                claims=(Claim(ARC, 0.0, 0.5), Claim("In the condenser as they part", 0.0, 0.1), Claim(_SPARK, 20.0, 60.0)),
            ),
            Step(
                "Now a smaller condenser. The curves meet at once, the gap breaks down, and {Arc energy as they part} burn at "
                "the points. The spark is left with {Spark energy}. What burns at the points is lost to the plug.",
                do="Or take the capacity down by hand, slowly, and wait for the curves to meet.",
                label="A smaller condenser", values={"capacity": 0.1},
                claims=(Claim(ARC, 10.0, 60.0), Claim(_SPARK, 0.0, 0.75, "race")),
            ),
        ),
        ("charts.race",), ("capacity", "gap"), (ARC, _SPARK, "In the condenser as they part"),
        objections=(
            Objection(
                "Then I fit a bigger one, to be safe.",
                "Try it: twice as large brings hardly anything. Once the race is won it is won.",
                (Claim(_SPARK, 0.9, 1.1, "race", {"capacity": 0.9}),),
            ),
        ),
    ),
    Stop(
        "no_condenser", "Without it", "condenser_race", 2, 0,
        "A condenser may also be open inside: a lead has come off, and it is as if it were not there.",
        "And with no condenser at all: no spark, or no points?",
        "An arc eats {Arc energy as they part} at the points, and nothing is left for the plug: both suffer.",
        (
            Step(
                "Both suffer. The gap breaks down at once, and {Arc energy as they part} burn at the points, at every single "
                "parting. For the plug there is nothing left, not one spark.",
                "So when points are burnt, the file is not the answer, or not the whole answer. Filed points burn again if the "
                "reason is still there. We have now seen one reason to burn points. A second one is waiting.",
                claims=(Claim(ARC, 10.0, 60.0), Claim(_SPARK, 0.0, 0.0)),
            ),
            Step(
                "And back to its proper size: the arc is gone, and {Spark energy} are in the spark again.",
                label="Put it back", values={"capacity": 0.4},
                claims=(Claim(ARC, 0.0, 0.5), Claim(_SPARK, 20.0, 60.0)),
            ),
        ),
        ("charts.race", "charts.spent"), ("capacity",), (ARC, _SPARK), {"capacity": 0.0},
        (
            Objection(
                "I file my points every spring, and it runs.",
                "Filing takes the burnt skin off, and that does help. But points that burn tell you something. Ask what, before "
                "you take the file.",
            ),
        ),
    ),
    Stop(
        "vibrator", "What sets the opening current", "vibrator", 2.5, 0,
        "So much for where the current goes. But at which current do they part? That is for the lower spring to say.",
        "You add a fifth to the vibrator's spring. Does the opening current go up by a fifth?",
        "By less: it goes from {Opening current} to {Opening current@vibrator.2}. The pull goes with the square of the current.",
        (
            Step(
                "First as it stands. By its forces alone, with the current held still, it would let go at "
                "{Lets go at (statics)}. It parts at {Opening current}, because the current goes on growing while the blades are "
                "on their way. Nothing that weighs something moves in no time.",
                claims=(Claim(CURRENT, 4.0, 8.0), Claim("Lets go at (statics)", 2.0, 4.5), Claim(SPARKS, 1.0, 1.0)),
            ),
            Step(
                "Now add the fifth. The opening current goes up to {Opening current}: by much less than a fifth. The pull goes "
                "with the square of the current, so the current goes with the root of the spring.",
                "More current at the parting is more energy for the spark. That is why people like to set this spring by an "
                "ammeter, and the ammeter does see it. What it hardly sees is the other spring. To that one we go now.",
                label="A fifth more spring", values={"preload": FIFTH_MORE},
                claims=(Claim(CURRENT, 1.02, 1.15, "vibrator"), Claim(ENERGY, 1.05, 2.0, "vibrator")),
            ),
        ),
        ("charts.pull",), ("preload", "rpm"), ("Lets go at (statics)", CURRENT, SPARKS),
    ),
    Stop(
        "well", "The second spring", "cushion", 3, 2,
        "Two springs, then. The lower one, the vibrator, decides at which current they part. One spring could do that alone.",
        "So what is the upper spring for, if the lower one sets the current?",
        "It makes the contacts part briskly, after they have travelled together: one strong spark, hardly an arc.",
        (
            Step(
                "It makes the parting brisk. Follow the upper contact. It comes down with the lower one for {Follow travel}, and "
                "its rivet stops it. By then the lower one is moving fast, and leaves it at {Parting speed}. A brisk parting is "
                "one strong spark, {Spark energy, first spark}, and hardly an arc.",
                "It is like two people who run hand in hand, and one of them is caught by the collar. They do not let go slowly. "
                "Without the upper spring the pair would part from a standstill, and a gap that opens from a standstill is small "
                "for a long time. Remember this column, one solid mark in every row, for that is how well set looks.",
                "Press Play. Let somebody in the front row say when the upper contact meets the rivet.",
                claims=(Claim(SPARKS, 1.0, 1.0), Claim(SPEED, 0.05, 1.0), Claim(FOLLOW, 0.1, 0.4), Claim(ARC, 0.0, 0.5),
                        Claim(ENERGY, 20.0, 60.0)),
            ),
        ),
        ("scene", "ladder"), ("preload", "rpm"), (SPARKS, ENERGY, ARC),
    ),
    Stop(
        "slack", "Too slack", "cushion", 3.5, 2.5,
        "Now we spoil it. A blade gets tired, or somebody has bent it a little. The crank turns at the speed of the road.",
        "Slacken that upper spring. Will the spark be weaker, will it come sooner, or will there be more of them?",
        "Weaker: {Arc energy as they part@slack.2} burn at the points, and the spark gets {Spark energy, first spark@slack.2}. "
        "It comes no sooner, and there is still one in every pulse.",
        (
            Step(
                "Here it is well set, as before: {Spark energy, first spark} in the spark. Now watch the marks while I take the "
                "upper spring down.",
                "",
                "Press K first: this run stays beside what comes. Then pull the cushion's preload down yourself, slowly, until "
                "the marks turn small and hollow; or press the key.",
                "Still well set",
                claims=(Claim(ENERGY, 20.0, 60.0), Claim(SPARKS, 1.0, 1.0)),
            ),
            Step(
                "Weaker. There is still {Sparks per pulse} spark in every pulse, and it comes no sooner. But the upper contact "
                "is left behind. They part at a crawl, before it has reached its rivet, and {Arc energy as they part} burn at "
                "the points. The spark gets {Spark energy, first spark}, too little to light the charge for sure, so the marks "
                "are small and hollow. Count the sparks, and all is well. Read the current, and all is well. Look at the points, "
                "and they flash.",
                "That is the second way to burn points, and the condenser is innocent. As to what lights a charge: "
                "we draw the line at ten millijoules in the gap. It is a choice, made from what "
                "textbooks say, and in truth it is a slope and not a line. But between what this spark has and what it had "
                "before, there is no need to argue about slopes.",
                label="Slacken it", values={"preload": SLACK},
                claims=(Claim(SPARKS, 1.0, 1.0), Claim(SPEED, 0.0, 0.1, "well"), Claim(FOLLOW, 0.1, 0.8, "well"), WEAK,
                        Claim(ARC, 15.0, 80.0), Claim(CURRENT, 0.97, 1.1, "well"), Claim(TIME, 0.97, 1.3, "well")),
            ),
        ),
        ("scene", "ladder"), ("preload", "rpm"), (SPARKS, ENERGY, ARC),
        objections=(
            Objection(
                "A stronger magneto would cure it.",
                "Let us see. Much more drive, and the spark is still too weak, while more burns at the points than before.",
                (Claim(ENERGY, 0.0, LIGHTS, at={"preload": SLACK, "drive": 160.0}),
                 Claim(ARC, 1.05, 3.0, "slack.2", {"preload": SLACK, "drive": 160.0})),
            ),
            Objection(
                "Ten millijoules is a figure of yours.",
                "It is. Say three instead, and Thursday's coil still misses, only from a higher speed on. There is a slider for "
                "it when we come to Sunday.",
                (Claim(MISFIRES, 30.0, 70.0, panel="costs", at={"least": 3.0}),),
            ),
        ),
    ),
    Stop(
        "slack_slow", "The same coil, by hand", "cushion", 2, 1.5,
        "Now nobody touches a spring. The coil stays as slack as it is. Only the crank turns slower.",
        "The same slack coil, but turned by hand. What will it do now?",
        "One sound spark in every pulse, {Spark energy, first spark}. A slow test hides a slack cushion: test at driving speed.",
        (
            Step(
                "{Sparks per pulse} sound spark in every pulse, {Spark energy, first spark}. It passes. By hand it even gives a "
                "little more than the well-set coil would. Turned slowly there is time, and the weak spring can follow. And you "
                "have seen this picture before. It is Thursday's coil.",
                "Nobody lied on Thursday, and nobody was careless. The test was slow. That is the whole trick, and it works on "
                "anybody who tests by hand.",
                "Go back to the first stop if somebody doubts that it is the same picture.",
                claims=(Claim(SPARKS, 1.0, 1.0), Claim(FOLLOW, 1.1, 8.0, "slack.2"), Claim(ENERGY, 1.5, 10.0, "slack.2"),
                        Claim(ENERGY, 0.6, 0.99, "slack_slow", {"preload": CUSHION})),
            ),
            Step(
                "Up to the speed of the road again, and it is gone: {Spark energy, first spark}.",
                label="And up to the road", values={"rpm": 450.0},
                claims=(WEAK,),
            ),
        ),
        ("scene", "ladder"), ("preload", "rpm"), (SPARKS, ENERGY, ARC), {"preload": SLACK, **BY_HAND},
    ),
    Stop(
        "stiff", "Too stiff", "cushion", 3, 2,
        "If slack is bad, the careful man gives it a little extra.",
        "So is more spring the safe side?",
        "No. It parts early, at {Opening current} instead of {Opening current@well}, with a weaker spark, and fires again.",
        (
            Step(
                "No. Too stiff a cushion helps the core. It presses the pair down before the current is ready, and they part at "
                "{Opening current} instead of {Opening current@well}. The first spark is weaker, {Spark energy, first spark}, "
                "and there is time to come back for another, which nobody needs. The charge is lit by then, or it is not.",
                "You can see it on the column: it stands further to the left, and beside it there are other marks. So the engine "
                "gets its spark too soon, and a weaker one, and the second one comes when there is nothing left to do.",
                claims=(Claim(SPARKS, 1.3, 5.0), Claim(CURRENT, 0.4, 0.92, "well"), Claim(ENERGY, 0.0, 0.8, "well"),
                        Claim(TIME, 0.4, 0.95, "well")),
            ),
            Step(
                "And this one does not hide. Turned by hand it gives {Sparks per pulse} sparks in a pulse, and every one of them "
                "is too weak to light. Such a coil is hard to start.",
                label="Turn it by hand", values={"preload": STIFF, **BY_HAND},
                claims=(Claim(SPARKS, 1.6, 6.0), WEAK),
            ),
        ),
        ("scene", "ladder"), ("preload", "rpm"), (SPARKS, CURRENT, ENERGY), {"preload": STIFF},
        (
            Objection(
                "Two sparks are better than one.",
                "If the first one lights the charge, the second has nothing to do. And its energy was missing in the first.",
                (Claim(ENERGY, 10.0, 60.0), Claim(ENERGY, 0.0, 0.8, "well")),
            ),
        ),
    ),
    Stop(
        "buzz", "It buzzes, so it works", "battery_buzz", 2.5, 0,
        "Most of us have put a coil on a battery and listened. It is quick, and it sounds convincing.",
        "We put Thursday's coil on a battery and listen. Can you hear what is wrong with it?",
        "No. It buzzes at {Pitch of the buzz}, the well-set coil at {Pitch of the buzz@buzz.2}, and each swing gives a spark.",
        (
            Step(
                "It buzzes, at {Pitch of the buzz}, and on the battery it even gives a spark with every swing. By ear it is a "
                "good coil.",
                "A battery is not a magneto. It waits, for as long as the coil likes. On the magneto the current does not wait, "
                "and that is where this spring comes too late.",
                "Press Listen.",
                claims=(Claim(_PITCH, 50.0, 1000.0), Claim(_A_SECOND, 50.0, 1000.0), Claim(_A_SECOND, 0.9, 1.1, "buzz")),
            ),
            Step(
                "And this is the well-set one. {Pitch of the buzz}. The two are much less than a semitone apart. So a buzz "
                "proves that the blade moves. It does not prove more.",
                "The spark is made in the silent instant after the parting, and how that went, the buzz does not tell.",
                do="Press Listen again.",
                label="The well-set coil", values={"preload": CUSHION},
                claims=(Claim(_PITCH, 1.0 / (0.5 * (1.0 + SEMITONE)), 0.5 * (1.0 + SEMITONE), "buzz"),
                        Claim(_A_SECOND, 0.8, 1.25, "buzz")),
            ),
        ),
        ("scene",), ("preload",), (_PITCH, _A_SECOND), {"preload": SLACK},
        (
            Objection(
                "My father set them by ear, and they ran.",
                "He also had the road to try them on, and he knew his coils. By ear he heard that the blade swings. That is "
                "worth hearing, but it would not have told him our two coils apart.",
            ),
        ),
        heard=True,
    ),
    Stop(
        "meter", "An ammeter in the lead", "same_reading", 3, 1.5,
        "Then a meter. An ammeter in the lead is quick, and it does not tire.",
        "Two coils read alike on the ammeter. Are they equally good?",
        "No. The meter takes coils that misfire and coils that do not for the same.",
        (
            Step(
                "No. This one is too slack: its spark has {Its first spark}, too weak for the road, and on the meter it is "
                "the well-set coil's twin. Every coloured cell on this map is a coil that reads like it. Some of them are good "
                "and some misfire, and the meter cannot tell you which.",
                "Left and right on the map is the upper spring, up and down the lower one. The coloured cells lie like a band "
                "across it, slack with slack and stiff with stiff: what the one spring takes, the other gives back. Good and bad "
                "coils lie in one band.",
                claims=(Claim("Its first spark", 0.0, LIGHTS), Claim("Its first spark", 2.0, 10.0, "meter", WELL_SET),
                        Claim("Your coil on the meter, averaging (rectified mean)", 0.95, 1.05, "meter", WELL_SET)),
            ),
            Step(
                "A dearer meter, then, one that reads true root mean square. The band moves a little, and there are still good "
                "ones and bad ones in it. So never set four coils to one reading.",
                do="The map takes a second or two. The peak meter is in the list as well.",
                label="A dearer meter", values={"meter": "rms"},
                claims=(Claim("Its first spark", 0.0, LIGHTS),),
            ),
        ),
        ("map",), ("meter", "preload"), ("Its opening current", "Its first spark"), TWIN,
        (
            Objection(
                "The meter has served this club for years.",
                "It serves for the lower spring: stiffen that one, and the reading goes up. For the upper one you need another "
                "test.",
                (Claim("Your coil on the meter, averaging (rectified mean)", 1.06, 3.0, "meter",
                       {**WELL_SET, "vibrator_preload": round(1.2 * WELL_SET["vibrator_preload"], 2)}),),
            ),
        ),
    ),
    Stop(
        "car", "In the car", "car_lever", 2.5, 0,
        "Off the bench and into the car. There a timer says when a coil may fire, and there is a lever on the steering column.",
        "You move the timer's lever five degrees later. How far does the spark move?",
        "Not at all, or by a whole pulse: it is the magneto's pulse that fires, and the timer only chooses which.",
        (
            Step(
                "This is where we begin: the spark comes {First spark} before the top of the piston's stroke.",
                do="Show the mark on the stairs.", label="Where it stands",
                claims=(Claim(_FIRES, -45.0, -10.0),),
            ),
            Step(
                "Five degrees later, and the spark is still at {First spark}. The timer only opens a window. It is the magneto's "
                "pulse that fires.",
                label="Five degrees later", values={"lever": -28.0},
                claims=(Claim(_FIRES, 0.97, 1.03, "car"),),
            ),
            Step(
                "Further, to the end of the step: now the window opens in the middle of a pulse, the spark is dragged along, "
                "and it is weaker.",
                label="To the end of the step", values={"lever": -18.0},
                claims=(Claim(_FIRES, 0.3, 0.7, "car"), Claim(ENERGY, 0.3, 0.8, "car")),
            ),
            Step(
                "And a touch more, and it has jumped to the next pulse, {First spark} after the top. So the lever chooses a "
                "pulse, and the coil decides the rest.",
                label="A touch more", values={"lever": -15.0},
                claims=(Claim(_FIRES, 0.5, 10.0),),
            ),
        ),
        ("strips.current", "charts.stairs"), ("lever", "rpm"), (_FIRES, "Later than the timer closes"),
    ),
    Stop(
        "sunday", "The same coil on Sunday", "costs", 3, 2,
        "And now Sunday. Thursday's coil goes through the timer. It gets one pulse at a time, and begins each of them from rest.",
        "Thursday's coil goes into the car. At which speeds does it begin to miss?",
        "Well above hand speed. By hand it starts; on the open road it misses, {Misfires, all speeds together} of a hundred in "
        "all.",
        (
            Step(
                "The engine starts. It runs gently. Then, on the open road, the solid curve goes to the top: no spark is strong "
                "enough, and the points burn. All speeds together, {Misfires, all speeds together} of a hundred windows misfire. "
                "The dashed line is the well-set coil. It lies on the floor: that coil never misses.",
                "So this is what happened on Sunday. Nothing broke on the way. The coil was on Thursday what it was on Sunday, "
                "and all that had changed was the speed. You may also say that the engine found out what the test did not.",
                "Take the least energy that lights the charge down and up: the edge moves, the story stays.",
                claims=(Claim(MISFIRES, 50.0, 95.0),),
            ),
            Step(
                "The stiff coil is bad at the other end: at the hand crank. Once it runs, it lights.",
                label="The stiff one", values={"coil": "stiff"},
                claims=(Claim(MISFIRES, 1.0, 20.0),),
            ),
        ),
        ("charts.misfires",), ("coil", "least"), (MISFIRES,),
        objections=(
            Objection(
                "Mine is as slack as that, and it runs.",
                "It may. Driven gently it does so here too. And an easy mixture forgives a lot: say three millijoules "
                "are enough, and there is a good deal of road left before it misses.",
                (Claim(MISFIRES, 0.4, 0.9, "sunday", {"least": 3.0}),),
            ),
        ),
    ),
    Stop(
        "cause", "Cushion or condenser?", "causes", 2, 1,
        "We have met two ways to burn points: a bad condenser, and a slack cushion.",
        "The points burn, and on the road the spark is weak. Is it the cushion, or is it the condenser? How would you find out?",
        "Turn it slowly. With a slack cushion the spark comes back; with a bad condenser it is weak at every speed.",
        (
            Step(
                "Turn it slowly, and you know. This is the slack cushion, the well-set coil dashed beside it. By hand its spark "
                "is as good as any, and the faster you go, the less is left.",
                "One reading alone is seldom an answer. Two that differ in one thing, here the speed, often are.",
                claims=(Claim(ENERGY, 1.5, 10.0, "cause", BY_HAND), WEAK,
                        Claim(ENERGY, 0.6, 1.0, "slack_slow", {"fault": "none", **BY_HAND})),
            ),
            Step(
                "And this is a condenser that is nearly open. Weak at every speed: a slow crank does not help. Then have the "
                "condenser measured, discharged and out of the circuit, or with the points held apart.",
                "And write down what you read, at which speed, one row a reading: that is a bench sheet. The course turns "
                "it into a card with the likely cause and the next step, and it says so when it cannot tell.",
                label="The condenser", values={"fault": "small"},
                claims=(WEAK, Claim(ENERGY, 0.0, LIGHTS, at=BY_HAND), Claim(ARC, 10.0, 60.0)),
            ),
        ),
        ("charts.first_energy",), ("fault", "rpm"), (ENERGY, ARC), {"fault": "slack"},
    ),
    Stop(
        "setting", "What to do about it", "tension_map", 3, 1.5,
        "One thing is left. Thursday's coil lies on the bench again. We know what it is. Now we set it right.",
        "Thursday's coil stands left of the field of ones. Which spring do we touch, and which way?",
        "The cushion, up, to the middle of the field of ones; then test again at driving speed, and look at the points.",
        (
            Step(
                "The cushion, and up. The map shows every pair of springs: across is the upper one, upward the lower one. In the "
                "field of ones there is one spark in every pulse, and a strong one. To the left of it stands our coil. And touch "
                "a blade only with the magneto at rest, the supply off and the condenser discharged.",
                "If the opening current is wrong as well, the vibrator comes first. Neither spring is set by one reading, and "
                "every bend is followed by a run, at the speed of the road.",
                claims=(WEAK, Claim(SPARKS, 1.0, 1.0)),
            ),
            Step(
                "There it goes, to the middle of the field and not just over the border, so that a little change does no "
                "harm. {Spark energy, first spark} again.",
                do="Or move it yourself, and stop in the middle of the ones.",
                label="Set it right", values={"preload": CUSHION},
                claims=(Claim(ENERGY, 20.0, 60.0), Claim(SPARKS, 1.0, 1.0)),
            ),
            Step(
                "So what do we do about Sunday? Three things. Test as fast as you drive. Count the sparks, and look at the "
                "points while you count. And when they flash, think of the upper spring before you take the file. That is all "
                "the difference between Thursday and Sunday.",
                label="What to do about Sunday", values={"preload": CUSHION},
            ),
        ),
        ("map",), ("preload", "vibrator_preload"), (SPARKS, ENERGY), {"preload": SLACK},
        (
            Objection(
                "I bend it a bit further still, to be safe.",
                "Then you come out on the other side: early, weak, and hard to start. The middle is the safe side.",
                (Claim(ENERGY, 0.0, LIGHTS, panel="cushion", at={"preload": STIFF, **BY_HAND}),),
            ),
        ),
    ),
)


def stop_named(key: str) -> Stop:
    """Return the stop with this key; KeyError says which there are."""
    for stop in STOPS:
        if stop.key == key:
            return stop
    raise KeyError(f"there is no stop {key!r}; there are {', '.join(stop.key for stop in STOPS)}")


def measured(stop: Stop, step: int, claim: Claim) -> float:
    """Return what the model says of a claim at step number `step` of `stop`: the reading, or its ratio to the one that it is held
    against. KeyError where there is no such reading or place; a reading without a number is NaN, which lies in no range.
    """
    values = dict(claim.at) if claim.panel else {**stop.values_at(step), **claim.at}
    value = value_of(picture_at(claim.panel or stop.panel, values), claim.reading)
    if not claim.against:
        return value
    place, _, number = claim.against.partition(".")
    return value / value_of(stop_named(place).picture(int(number or 1)), claim.reading)
