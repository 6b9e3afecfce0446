//! Whether shapes move with every frame or at the pace of the digits: what the singer chose, above what the system asks for.
//!
//! In: the choice, and whether the system asks for less motion. Out: which is in force, and why.

/// What the singer chose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Motion {
    /// Nothing: it is as the system asks.
    #[default]
    AsSystem,
    /// At the pace of the digits, whatever the system asks.
    Less,
    /// With every frame, whatever the system asks.
    All,
}

impl Motion {
    /// What there is to choose, and its name.
    pub const NAMED: [(Self, &str); 3] =
        [(Self::AsSystem, "as the system asks"), (Self::Less, "less"), (Self::All, "all")];

    /// Whether shapes move at the pace of the digits.
    #[must_use]
    pub fn less(self, system_asks: bool) -> bool {
        match self {
            Self::AsSystem => system_asks,
            Self::Less => true,
            Self::All => false,
        }
    }

    /// The choice that turns round what is in force. Where that is what the system asks for, it is the system's again: so no choice
    /// is left behind that nobody sees.
    #[must_use]
    pub fn turned(self, system_asks: bool) -> Self {
        match !self.less(system_asks) {
            less if less == system_asks => Self::AsSystem,
            true => Self::Less,
            false => Self::All,
        }
    }

    /// What is in force, and why.
    #[must_use]
    pub fn told(self, system_asks: bool) -> &'static str {
        match (self, system_asks) {
            (Self::AsSystem, true) => "less: the system asks for it",
            (Self::AsSystem, false) => "all: the system has not asked for less",
            (Self::Less, _) => "less: chosen here",
            (Self::All, true) => "all: chosen here, though the system asks for less",
            (Self::All, false) => "all: chosen here",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_choice_goes_above_what_the_system_asks() {
        let less = |choice: Motion| [true, false].map(|asks| choice.less(asks));
        assert_eq!(less(Motion::AsSystem), [true, false]);
        assert_eq!(less(Motion::Less), [true, true]);
        assert_eq!(less(Motion::All), [false, false]);
    }

    #[test]
    fn turning_it_round_twice_is_the_systems_again() {
        for asks in [true, false] {
            let once = Motion::AsSystem.turned(asks);
            assert_eq!(once.less(asks), !asks);
            assert_eq!(once.turned(asks), Motion::AsSystem);
            // A choice that the system has come to share is turned round all the same.
            for (choice, _) in Motion::NAMED {
                assert_eq!(choice.turned(asks).less(asks), !choice.less(asks), "{choice:?} {asks}");
            }
        }
    }
}
