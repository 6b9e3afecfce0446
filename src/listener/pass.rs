//! Which pass of the song the voice is in: a loop jump or a start of the transport opens a new one.
//!
//! In: the host's timeline position at each block's first sample (`None` while the transport stands). Out: whether a pass
//! begins there. The very first start opens pass 0, in which all that was sung before it is counted too.

/// Follows the host's timeline.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Transport {
    next: Option<i64>,
    started: bool,
}

impl Transport {
    /// A block of `length` samples begins at `timeline`; true if it opens a new pass.
    pub(super) fn block(&mut self, timeline: Option<i64>, length: i64) -> bool {
        let jumped = timeline.is_some() && timeline != self.next;
        let opens = jumped && self.started;
        self.started |= timeline.is_some();
        self.next = timeline.map(|at| at.saturating_add(length));
        opens
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn starts_and_jumps_open_passes() {
        let mut transport = Transport::default();
        let blocks = [
            (None, false),
            (Some(1000), false),
            (Some(1064), false),
            (Some(0), true),
            (Some(64), false),
            (None, false),
            (Some(128), true),
            (Some(192), false),
        ];
        for (at, (timeline, expected)) in blocks.into_iter().enumerate() {
            assert_eq!(transport.block(timeline, 64), expected, "block {at}");
        }
    }
}
