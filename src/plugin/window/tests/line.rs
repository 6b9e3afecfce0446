//! The line, the notes and the marks, as they run and as they stand frozen.

use super::*;

#[test]
fn the_line_brought_up_to_date_is_the_line_made_anew() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    for cents in [0.0, 702.0, f64::NEG_INFINITY, 386.0, 1195.0, f64::NEG_INFINITY] {
        let hz = if cents.is_finite() { above(cents) } else { 0.0 };
        instance.sing(hz, 2.0, |i| filler.fill(&i.links, &mut session, (i.seconds(), false)));
    }
    filler.fill(&instance.links, &mut session, (instance.seconds(), false));
    let mut anew = Filler::new(&instance.links);
    anew.fill(&instance.links, &mut Session::default(), (instance.seconds(), false));
    // The one that was kept may have a few old points more.
    let kept: Vec<&LinePoint> = filler.view.line.iter().rev().take(anew.view.line.len()).collect();
    let fresh: Vec<&LinePoint> = anew.view.line.iter().rev().collect();
    assert!(fresh.len() > 2000);
    assert_eq!(kept, fresh);
    assert_eq!(filler.view.notes, anew.view.notes);
    assert!(filler.view.notes.len() >= 4, "{}", filler.view.notes.len());
    let held = fresh.iter().filter(|p| p.beats_hz.is_some_and(|b| b < 1.0));
    assert!(held.count() > 200, "Sa and Pa beat slowly with the drone");
}

#[test]
fn bars_marks_and_the_note_looked_at_are_filled_in() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    // 120 quarters a minute in four: a bar takes two seconds; the project stands at the start of bar 5.
    let bars = Bars {
        time: SampleTime(0),
        playing: true,
        quarters: 16.0,
        bar_start: 16.0,
        bar: 4,
        tempo: 120.0,
        signature: (4, 4),
    };
    instance.transport = Transport { playing: true, position: Some(0), bars: Some(bars) };
    instance.block(0.0);
    // From here on the host only counts on: nothing new to say.
    instance.transport.bars = None;
    instance.transport.position = None;
    instance.sing(0.0, 2.1, |_| {});
    instance.sing(above(40.0), 2.0, |_| {});
    instance.knobs.mark = true;
    instance.sing(0.0, 1.0, |_| {});
    filler.fill(&instance.links, &mut session, (0.0, false));
    let row = filler.view.notes.first().unwrap().clone();
    assert_eq!(row.bar_beat, Some((6, 1)));
    assert!(row.outside);
    assert_eq!(filler.view.again, [0]);
    assert_eq!(filler.view.marks.len(), 1);
    assert!((filler.view.marks[0].time_s - 4.1).abs() < 0.05, "{:?}", filler.view.marks);
    instance.links.bridge.history(|h| h.name_mark(h.marks[0].time, "good Ga".into()));
    filler.fill(&instance.links, &mut session, (0.0, false));
    assert_eq!(filler.view.marks[0].word, "good Ga", "the word comes after the mark");
    (session.note, session.replay) = (Some(0), Some(0));
    filler.fill(&instance.links, &mut session, (0.0, false));
    let shown = filler.view.shown_note.as_ref().unwrap();
    assert!((shown.line[0].time_s - (row.start_s - 0.5)).abs() < 0.006);
    assert!(filler.view.replay.as_ref().is_some_and(|r| r.line.len() > 800));
    // Under another Sa they stay in the list, and are not offered to be sung again.
    assert!(
        super::super::line::again(
            &filler.view.notes,
            &filler.view.targets,
            (Hertz(1.1 * filler.view.sa.0), &filler.view.page, 0),
            0.0
        )
        .is_empty()
    );
    // Nor is what lies far from every swara of the scale: it is another swara.
    let mut far = filler.view.notes.clone();
    far.iter_mut().for_each(|row| row.note.cents = Cents(386.0));
    let few = crate::swara::Scale::SaPaSa.targets(&crate::swara::Tuning::Just, &crate::swara::Nudges::default());
    let worth = |targets| super::super::line::again(&far, targets, (filler.view.sa, &filler.view.page, 0), 0.0).len();
    assert_eq!((worth(&filler.view.targets), worth(&few)), (1, 0));
    // The list as it is exported bears them too.
    let links = &instance.links;
    let lesson = export::Lesson { bridge: &links.bridge, choices: &links.choices, sa: sa(), band: links.params.band() };
    let table = String::from_utf8(export::table(&lesson).unwrap()).unwrap();
    let lines: Vec<&str> = table.lines().collect();
    assert!(
        lines[0].starts_with("start_s,end_s,swara,") && lines[0].ends_with(",bar,beat,sa_hz,other,far"),
        "{}",
        lines[0]
    );
    assert!(lines[1].ends_with(&format!(",6,1,{:.2},,0", sa().0)), "{}", lines[1]);
    // The report bears the mark with its word, and each note's line in that list.
    let page = export::page(&lesson).unwrap();
    assert!(page.contains("<li>4 s: good Ga</li>") && page.contains("data-of=\"no.\">1</td>"), "{page}");
    // The transport stops: the singer is pointed to what is worth singing again.
    filler.fill(&instance.links, &mut session, (1.0, false));
    instance.transport.playing = false;
    instance.block(0.0);
    filler.fill(&instance.links, &mut session, (1.1, false));
    assert!(filler.view.said.contains("One note is most worth singing again"), "{}", filler.view.said);
    filler.fill(&instance.links, &mut session, (20.0, false));
    assert!(filler.view.said.is_empty(), "it does not stand for ever");
}

#[test]
fn what_several_voices_sing_is_drawn_and_belongs_to_no_note() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    instance.sing(above(0.0), 1.0, |_| {});
    let last = instance.links.bridge.history(|h| h.now());
    for k in 1..=40 {
        let time = SampleTime(last.0 + 240 * k);
        instance.end.line(bridge::LinePoint { time, cents: 702.0, several: true, counts: true });
    }
    filler.fill(&instance.links, &mut session, (1.2, false));
    let (alone, shared): (Vec<&LinePoint>, Vec<&LinePoint>) = filler.view.line.iter().partition(|p| !p.several);
    assert_eq!(shared.len(), 40);
    assert!(shared.iter().all(|p| p.cents.is_some() && p.kind.is_none() && p.beats_hz.is_none()));
    assert!(alone.iter().any(|p| p.kind.is_some()));
}

/// What a frozen face shows of the voice.
fn seen(view: &View) -> (Option<f64>, Option<f64>, Option<f64>, usize) {
    let offset = view.reading.map(|named| named.offset.0);
    let held = view.line.iter().filter(|p| p.kind == Some(crate::note::Kind::Held)).count();
    (offset, view.current.map(|c| c.seconds), view.beats_hz, held)
}

#[test]
fn a_frozen_picture_stands_still_in_letter_figures_and_lines() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    instance.sing(above(8.0), 2.0, |i| filler.fill(&i.links, &mut session, (i.seconds(), false)));
    let (_, seconds, beats, live) = seen(&filler.view);
    assert!(live > 200 && seconds.is_some() && beats.is_some());
    session.own.frozen = Some(true);
    filler.fill(&instance.links, &mut session, (instance.seconds(), false));
    let stood = seen(&filler.view);
    assert!(stood.3 + 5 > live, "what sounds keeps its kind, and with it its name: {} of {live}", stood.3);
    // Another swara is sung, and silence: nothing of it is seen.
    for (hz, seconds) in [(above(702.0), 1.0), (0.0, 1.5)] {
        instance.sing(hz, seconds, |i| {
            filler.fill(&i.links, &mut session, (i.seconds(), false));
            let now = seen(&filler.view);
            assert_eq!((now.0, now.1, now.2), (stood.0, stood.1, stood.2));
            assert!(now.3 * 10 > stood.3 * 9, "{now:?} {stood:?}");
        });
    }
    // Scrolled, the figures tell the new right edge.
    let until = filler.view.now_s - 2.0;
    session.until_s = Some(until);
    filler.fill(&instance.links, &mut session, (instance.seconds(), false));
    assert_eq!(filler.view.reading.map(|named| named.swara.position()), Some(7));
    assert!(filler.view.current.is_some_and(|c| (c.cents.0 - 702.0).abs() < 15.0));
    session.own.frozen = Some(false);
    filler.fill(&instance.links, &mut session, (instance.seconds(), false));
    assert_eq!(filler.view.reading, None, "it runs again");
}

#[test]
fn a_teacher_who_demonstrates_is_shown_and_neither_listed_nor_counted() {
    let mut instance = Instance::new();
    let links = turned(&instance.links, |knobs| knobs.listen = false);
    let mut session = Session::default();
    let mut filler = Filler::new(&links);
    instance.knobs.listening = false;
    let mut most: (f64, f64) = (0.0, 0.0);
    instance.sing(above(8.0), 3.0, |i| {
        filler.fill(&links, &mut session, (i.seconds(), false));
        let (seconds, beats) = (filler.view.current.map_or(0.0, |c| c.seconds), filler.view.beats_hz.unwrap_or(0.0));
        most = (most.0.max(seconds), most.1.max(beats));
    });
    let held = |view: &View| view.line.iter().filter(|p| p.kind == Some(crate::note::Kind::Held)).count();
    assert!(most.0 > 2.5 && most.1 > 0.3, "held time and beats: {most:?}");
    let stroke = held(&filler.view);
    assert!(stroke > 400, "{stroke} points of the stroke");
    instance.sing(0.0, 1.0, |i| filler.fill(&links, &mut session, (i.seconds(), false)));
    assert!(filler.view.notes.is_empty() && instance.engine.meter().is_empty());
    // The pupil's note takes nothing from the teacher's stroke, nor does a frozen picture.
    instance.knobs.listening = true;
    let links = instance.links.clone();
    instance.sing(above(702.0), 1.5, |i| filler.fill(&links, &mut session, (i.seconds(), false)));
    instance.sing(0.0, 1.0, |i| filler.fill(&links, &mut session, (i.seconds(), false)));
    assert_eq!(filler.view.notes.len(), 1);
    assert!(held(&filler.view) > stroke + 200, "{} of {stroke} and the pupil's", held(&filler.view));
    session.own.frozen = Some(true);
    filler.fill(&links, &mut session, (instance.seconds(), false));
    assert!(held(&filler.view) > stroke + 200, "frozen: {} of {stroke} and the pupil's", held(&filler.view));
}

#[test]
fn a_note_that_has_ended_and_is_not_final_keeps_its_name_when_the_picture_runs_again() {
    let mut instance = Instance::new();
    let mut session = Session::default();
    let mut filler = Filler::new(&instance.links);
    session.own.frozen = Some(true);
    instance.sing(above(8.0), 2.0, |i| filler.fill(&i.links, &mut session, (i.seconds(), false)));
    session.own.frozen = Some(false);
    instance.sing(0.0, 0.06, |_| {});
    filler.fill(&instance.links, &mut session, (instance.seconds(), false));
    assert!(filler.view.notes.is_empty(), "not final yet");
    assert!(seen(&filler.view).3 > 200, "{:?}", seen(&filler.view));
}
