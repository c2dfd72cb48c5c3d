//! After how many steps it is checked again which stepping mode suits.

/// Counts steps from one check to the next.
pub struct StiffnessCheck {
    every: usize,
    steps: usize,
    /// When it was checked last, s.
    last: f64,
}

impl StiffnessCheck {
    pub fn every(every: usize, start: f64) -> Self {
        StiffnessCheck { every, steps: 0, last: start }
    }

    /// The mean length of the steps since the last check, s, if the next one is due after a step to this time (s).
    /// Steps at the edge of stability may be long and short in turns: one of them alone would not show it.
    pub fn due(&mut self, end: f64) -> Option<f64> {
        self.steps += 1;
        if self.steps < self.every {
            return None;
        }
        let length = (end - self.last) / self.steps as f64;
        (self.steps, self.last) = (0, end);
        Some(length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_long_and_short_in_turns_count_by_their_mean() {
        let mut check = StiffnessCheck::every(4, 10.0);
        let mut end = 10.0;
        let seen: Vec<_> = [3.0, 1.0, 3.0, 1.0, 3.0, 1.0, 3.0, 1.0]
            .into_iter()
            .map(|length| {
                end += length;
                check.due(end)
            })
            .collect();
        assert_eq!(seen, [None, None, None, Some(2.0), None, None, None, Some(2.0)]);
    }
}
