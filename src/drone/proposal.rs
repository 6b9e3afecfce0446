//! Which first string suits a raga.
//!
//! In: the swaras of a scale, and the first string in force. Out: a proposal, where that string sounds a swara that the raga lacks.
//! Nothing is switched here: the singer takes it or leaves it. The order is the usual one of the tambura: Pa; without it Ma; without
//! that Ni, then Ga, in the raga's own variant (common practice, no source).

use super::setting::First;
use crate::swara::Swara;

/// The swaras that a first string may sound, the first found of which it takes; none for no string.
fn sounds(first: First) -> &'static [Swara] {
    match first {
        First::Pa => &[Swara::P],
        // Only the pure Ma: prati Madhyama is no string of a drone.
        First::Ma => &[Swara::M1],
        First::Ni => &[Swara::N1, Swara::N2, Swara::N3],
        First::Ga => &[Swara::G1, Swara::G2, Swara::G3],
        First::None => &[],
    }
}

/// The swara of a scale that a first string sounds, by name and not by place: what stands at the place of N2 may be D3. The lowest
/// where there are several; `None` where the scale has none.
#[must_use]
pub fn own_variant(names: &[Option<Swara>; 12], first: First) -> Option<Swara> {
    sounds(first).iter().copied().find(|swara| names.contains(&Some(*swara)))
}

fn has(names: &[Option<Swara>; 12], first: First) -> bool {
    own_variant(names, first).is_some()
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

    #[test]
    fn a_variant_is_looked_up_by_its_name_and_not_by_its_place() {
        let of = |scale: &str| (own_variant(&names(scale), First::Ni), own_variant(&names(scale), First::Ga));
        assert_eq!(of("mela-1"), (Some(Swara::N1), Some(Swara::G1)));
        // D3 stands where N2 would, R3 where G2 would.
        assert_eq!(of("mela-36"), (Some(Swara::N3), Some(Swara::G3)));
        assert_eq!(of("mela-31"), (Some(Swara::N1), Some(Swara::G3)));
        assert_eq!(of("mela-6"), (Some(Swara::N3), Some(Swara::G1)));
        assert_eq!(of("mela-22"), (Some(Swara::N2), Some(Swara::G2)));
        assert_eq!(of("sa-pa-sa"), (None, None));
        // Without Pa and pure Ma, what is left of the octave's upper half is D3: no Ni string.
        let swaras = [Swara::S, Swara::R3, Swara::M2, Swara::D3];
        let mut few = [None; 12];
        for swara in swaras {
            few[usize::from(swara.position())] = Some(swara);
        }
        assert_eq!(proposed(&few, First::Pa), Some(First::None));
    }
}
