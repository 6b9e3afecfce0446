//! Which first string suits a raga.
//!
//! In: the swaras of a scale, and the first string in force. Out: a proposal, where that string sounds a swara that the raga lacks.
//! Nothing is switched here: the singer takes it or leaves it. The order is the usual one of the tambura: Pa; without it Ma; without
//! that Ni, then Ga, in the raga's own variant (common practice, no source).

use super::setting::First;
use crate::swara::Swara;

/// The swara class that a first string sounds, as the places in the octave that it may stand on; none for no string.
fn places(first: First) -> &'static [usize] {
    match first {
        First::Pa => &[7],
        // Only the pure Ma: prati Madhyama is no string of a drone.
        First::Ma => &[5],
        First::Ni => &[10, 11],
        First::Ga => &[3, 4],
        First::None => &[],
    }
}

fn has(names: &[Option<Swara>; 12], first: First) -> bool {
    places(first).iter().any(|place| names.get(*place).copied().flatten().is_some())
}

/// The first string that suits a scale, whose swaras stand at their places in the octave.
fn suits(names: &[Option<Swara>; 12]) -> First {
    let order = [First::Pa, First::Ma, First::Ni, First::Ga];
    order.into_iter().find(|first| has(names, *first)).unwrap_or(First::None)
}

/// What suits better than `first`, where that sounds a swara that the scale lacks.
#[must_use]
pub fn proposed(names: &[Option<Swara>; 12], first: First) -> Option<First> {
    (first != First::None && !has(names, first)).then(|| suits(names))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::swara::Scale;

    fn names(scale: &str) -> [Option<Swara>; 12] {
        Scale::parse(scale).expect("a scale").names()
    }

    #[test]
    fn a_raga_without_pa_has_ma_proposed_and_one_with_pa_nothing() {
        assert_eq!(proposed(&names("janya-hindolam"), First::Pa), Some(First::Ma));
        assert_eq!(proposed(&names("janya-hindolam"), First::Ma), None);
        assert_eq!(proposed(&names("mela-15"), First::Pa), None);
        // Mohanam has no Ma: whoever comes from Hindolam has Pa proposed.
        assert_eq!(proposed(&names("janya-mohanam"), First::Ma), Some(First::Pa));
        assert_eq!(proposed(&names("janya-mohanam"), First::None), None, "no string is no fault");
    }

    #[test]
    fn without_pa_and_pure_ma_it_is_ni_then_ga_then_none() {
        let of = |swaras: &[Swara]| {
            let mut names = [None; 12];
            for swara in swaras {
                names[usize::from(swara.position())] = Some(*swara);
            }
            proposed(&names, First::Pa)
        };
        use Swara::*;
        assert_eq!(of(&[S, R1, G3, M2, D1, N3]), Some(First::Ni));
        assert_eq!(of(&[S, G2, M2, D1]), Some(First::Ga));
        assert_eq!(of(&[S, M2, D2]), Some(First::None));
    }
}
