//! Which notes are most worth singing again.
//!
//! In: the notes outside the band, each with its place in a list. Out: the places of at most three of them: farthest off first, the
//! longer first among equals; beyond three seconds length no longer counts.

use super::Note;

/// So many are pointed at: more would not be sung.
const MOST: usize = 3;
/// A note held longer than this is no worse for it, seconds.
const LONG_S: f64 = 3.0;

/// The places of the notes most worth singing again, the most first.
pub fn again<'a>(outside: impl Iterator<Item = (usize, &'a Note)>) -> Vec<usize> {
    let weighed = |(i, note): (usize, &Note)| {
        let worth = note.offset.0.abs() * note.judged_s.min(LONG_S);
        (worth, (note.swara, note.sthayi), i)
    };
    let mut found: Vec<_> = outside.map(weighed).collect();
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    // Three times one swara is one thing to do: the worst of each kind first, more of a kind only where nothing else is left.
    let (mut firsts, mut more, mut kinds) = (Vec::new(), Vec::new(), Vec::new());
    for (_, kind, i) in found {
        if kinds.contains(&kind) {
            more.push(i);
        } else {
            kinds.push(kind);
            firsts.push(i);
        }
    }
    firsts.into_iter().chain(more).take(MOST).collect()
}
