//! What an exercise says to the singer, in plain words.
//!
//! In: the states of the machines. Out: [`Progress`]. Praise and blame are left out: it says what is, and one thing to do.
//! Nothing rewards loudness or holding on longer than is comfortable; the caution comes with every rest that is due.

use super::running::Progress;
use super::{
    EarAnswer, EarState, EarTable, LongToneState, LongToneTable, Mark, NextThing, NoAnswer, RoundState, RoundTable,
};
use super::{Split, Unsettled};
use crate::note::{Advice, Expected};
use crate::swara::Step;
use crate::units::{Cents, num};

/// Said beside a rest that is due (what to do follows the advice on voice care of the US National Institute on Deafness
/// and Other Communication Disorders, "Taking Care of Your Voice").
pub const REST: &str = "Rest the voice, drink water. If the throat feels raw or the voice is hoarse, stop for today; \
if that stays, see a doctor.";

/// A swara as it is spoken: "Sa", "tara Sa", "R2".
fn name(swara: &Expected) -> String {
    step_name(Step { swara: swara.target.swara, sthayi: swara.sthayi })
}

fn step_name(step: Step) -> String {
    let fixed = matches!(step.swara.short(), "S" | "P");
    let plain = if fixed { step.swara.syllable() } else { step.swara.short() };
    if step.sthayi.0 == 0 { plain.to_owned() } else { format!("{} {plain}", step.sthayi.name()) }
}

/// Whole cents without a sign.
fn whole(cents: f64) -> String {
    num::int(cents.abs()).to_string()
}

/// Minutes and seconds.
fn clock(seconds: f64) -> String {
    let whole = num::floor_index(seconds.max(0.0));
    format!("{}:{:02}", whole / 60, whole % 60)
}

/// "40 cents low", "on it".
fn off(offset: Cents, band: Cents) -> String {
    match Advice::of(offset, band) {
        Advice::Stay => format!("on it ({})", offset.signed()),
        Advice::Up => format!("{} cents low", whole(offset.0)),
        Advice::Down => format!("{} cents high", whole(offset.0)),
    }
}

/// A rest is due: it is said before what is due; `stays`: but neither over a question or an answer that stands nor over the end.
pub(super) fn rest(progress: &mut Progress, stays: bool) {
    progress.rest = true;
    if !stays {
        "Rest now".clone_into(&mut progress.call);
    }
}

pub(super) fn long_tone(state: &LongToneState, table: &LongToneTable) -> Progress {
    let swara = name(&table.swara);
    let done = state.done >= 1.0;
    let (call, now) = if done {
        let whole = clock(60.0 * table.goal_minutes);
        (
            "Done".to_owned(),
            format!("Done: {whole} of steady {swara}. Rest the voice and drink water; End closes the exercise."),
        )
    } else if state.steady_now {
        (format!("Hold {swara}"), format!("Steady for {:.0} s; breathe when you like.", state.run_s))
    } else {
        (format!("Hold {swara}"), format!("Hold {swara}, easily; breathe when you like."))
    };
    Progress {
        call,
        now,
        told: [split(state.split, &swara), unsettled(&state.unsettled, &swara)]
            .into_iter()
            .filter(|said| !said.is_empty())
            .collect::<Vec<_>>()
            .join(" "),
        share: Some(state.done.clamp(0.0, 1.0)),
        // Not all that is held is steady: whoever sees both times beside each other reads which this is.
        share_text: format!("steady {} of {}", clock(state.steady_s + 1e-6), clock(60.0 * table.goal_minutes)),
        ..Progress::default()
    }
}

/// Why one tone was counted as two notes.
fn split(why: Option<Split>, swara: &str) -> String {
    let Some(why) = why else { return String::new() };
    let why = match why {
        Split::Breath(seconds) => format!("a breath, a pause or a gap in the sound of {seconds:.1} s lay between"),
        Split::Gap => "the sound broke off for a moment".to_owned(),
        Split::Off(off) => {
            let side = if off.0 < 0.0 { "below" } else { "above" };
            format!("between them the voice left the band, {} cents {side} {swara}", whole(off.0))
        }
        Split::Wavered => "it wavered between them".to_owned(),
        Split::Moved => "the pitch moved on and came back".to_owned(),
    };
    format!("Counted as two notes: {why}.")
}

fn unsettled(what: &Unsettled, swara: &str) -> String {
    let mut parts = Vec::new();
    if let Some(off) = what.off {
        parts.push(format!("held {} cents {} {swara}", whole(off.0), if off.0 < 0.0 { "below" } else { "above" }));
    }
    if let Some(drift) = what.drifting_per_s {
        parts.push(format!("drifting {}", if drift < 0.0 { "down" } else { "up" }));
    }
    if let Some(hz) = what.wavering_hz {
        parts.push(format!("wavering {hz:.0} times a second"));
    }
    if what.unsteady.is_some() {
        parts.push("unsteady".to_owned());
    }
    if let Some(started) = what.started {
        parts.push(format!("started {} cents {}", whole(started.0), if started.0 < 0.0 { "low" } else { "high" }));
    }
    if parts.is_empty() { String::new() } else { format!("The last one: {}.", parts.join(", ")) }
}

pub(super) fn round(state: &RoundState, table: &RoundTable) -> Progress {
    let step = |i: usize| table.steps.get(i).copied().flatten();
    let swara = state.due.map_or_else(String::new, |due| name(&due));
    let may_skip = step(state.step).is_some_and(|s| s.optional);
    let (call, now) = match (state.sing, state.tone.is_some()) {
        (false, _) => (format!("Listen: {swara}"), format!("Listen: {swara}.")),
        (true, true) => (format!("Sing {swara} along"), format!("Sing {swara} with the tone, {:.0} s.", table.hold_s)),
        (true, false) => (format!("Now sing {swara}"), format!("Now sing {swara}, {:.0} s.", table.hold_s)),
    };
    let now = if may_skip { format!("{now} It may be left out.") } else { now };
    let marks = table.steps.iter().flatten().zip(&state.marks);
    let steps = marks.map(|(step, mark)| (name(&step.swara), mark.as_ref().map(|m| marked(m, table)))).collect();
    let said = |i: usize| step(i).map_or_else(String::new, |s| name(&s.swara));
    let told = match (state.short_s, state.next) {
        (Some(held_s), _) => short(held_s, table, &swara),
        (None, None) => String::new(),
        (None, Some(NextThing::Again { step, advice })) => {
            let way = if advice == Advice::Up { "a little higher" } else { "a little lower" };
            format!("This time: {} {way}.", said(step))
        }
        (None, Some(NextThing::Steadier { step })) => format!("This time: {} held more quietly.", said(step)),
        (None, Some(NextThing::OtherRegister { step })) => {
            format!("This time: {} in the register that is asked for.", said(step))
        }
        (None, Some(NextThing::OnceMore)) => "All in tune: the same round once more.".to_owned(),
        (None, Some(NextThing::Ready)) => format!("Ready: {} rounds in a row in tune and steady.", state.good_rounds),
    };
    let share_text =
        format!("{} of {} good rounds in a row", state.good_rounds.min(table.ready_rounds), table.ready_rounds);
    let share = f64::from(state.good_rounds) / f64::from(table.ready_rounds.max(1));
    // The marks stay to be read until the next round is sung.
    let last_round = state.next.is_some();
    let share = Some(share.min(1.0));
    Progress { call, now, told, share, share_text, steps, last_round, may_skip, ..Progress::default() }
}

/// Why a tone got no mark: a tenth that is not full is not counted.
fn short(held_s: f64, table: &RoundTable, swara: &str) -> String {
    format!("{:.1} of {} s held: {swara} once more, a little longer.", (held_s * 10.0).floor() / 10.0, table.hold_s)
}

fn marked(mark: &Mark, table: &RoundTable) -> String {
    let mut text = off(mark.offset, table.band);
    if mark.octaves_off != 0 {
        text.push_str(if mark.octaves_off > 0 { ", an octave up" } else { ", an octave down" });
    } else if mark.wobble.0 > table.steady.0 {
        text.push_str(", unsteady");
    }
    text
}

/// What was answered, as it is said.
fn word(answer: EarAnswer) -> &'static str {
    match answer {
        EarAnswer::Low => "low",
        EarAnswer::Same => "the same",
        EarAnswer::High => "high",
    }
}

/// Why an answer was none, and what to do.
fn none(why: NoAnswer, table: &EarTable) -> String {
    let hold = format!("hold it for {:.0} s or more", table.hold_s);
    match why {
        NoAnswer::NothingSung => format!("Sing first, then answer: {hold}."),
        NoAnswer::TooSoon => "Hold the note for half a second at least, then answer.".to_owned(),
        NoAnswer::TooShort => format!("Too short to say: sing it again, and {hold}."),
        NoAnswer::Moved => "That note moved: sing it again, on one pitch.".to_owned(),
    }
}

/// `stands`: an answer stands before the singer; `answerable`: the note that sounds may be answered already.
pub(super) fn ear_first(state: &EarState, table: &EarTable, (stands, answerable): (bool, bool)) -> Progress {
    let swara = table.swara.map_or_else(|| "a swara".to_owned(), |s| name(&s));
    let of = state.of.map_or_else(String::new, step_name);
    let was = || state.shown.map_or_else(String::new, |offset| format!("{of}: {}", off(offset, table.band)));
    let (call, now) = match state.early {
        _ if stands => (was(), format!("Sing {swara} again when you like: the answer stands until then, or until N.")),
        _ if state.asking => (
            "Low, same or high?".to_owned(),
            "Your own note, before the meter shows it: was it low, the same, or high?".to_owned(),
        ),
        Some(early) => (format!("You say {}", word(early)), "Finish the note.".to_owned()),
        None => (format!("Now sing {swara}"), format!("Sing {swara} for {:.0} s or more, and listen.", table.hold_s)),
    };
    let now = state.no_answer.map_or(now, |why| none(why, table));
    let told = match (state.shown, state.right, state.answered) {
        (Some(offset), Some(true), Some(answer)) => {
            format!("You said {}, and so it was: {of}, {}.", word(answer), off(offset, table.band))
        }
        (Some(offset), Some(false), Some(answer)) => {
            format!("You said {}; it was {of}, {}.", word(answer), off(offset, table.band))
        }
        _ => String::new(),
    };
    let share_text = match state.answers {
        0 => String::new(),
        n => format!("{} of {n} heard right", state.right_answers),
    };
    let asks = state.asking || (answerable && !stands);
    Progress { call, now, told, share: state.share(), share_text, asks, hides: !stands, stands, ..Progress::default() }
}
