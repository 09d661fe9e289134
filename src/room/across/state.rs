//! What to call the spacing of a system, and how it compares with the rest of its movement.

use super::line::Line;
use schemars::JsonSchema;
use serde::Serialize;

/// How a system is spaced, by how far its room is from natural (cuts fitted on open scores, spacing study of open scores).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// Less room than its signs need: some must collide.
    Overfull,
    /// Closer than if every note were half as long, and little ease left.
    Crowded,
    /// Close.
    Tight,
    /// As most systems are.
    Good,
    /// Wide.
    Loose,
    /// Wider than if every note were four times as long.
    Slack,
}

impl State {
    /// The state of a system.
    pub fn of(line: &Line) -> Self {
        /// Share of the way from least to natural below which close is crowded.
        const EASE: f64 = 0.4;
        match line.steps() {
            _ if line.available < line.widths.least => Self::Overfull,
            steps if steps < -1.0 && line.share_of_ease() < EASE => Self::Crowded,
            steps if steps < -0.75 => Self::Tight,
            steps if steps <= 1.25 => Self::Good,
            steps if steps <= 2.0 => Self::Loose,
            _ => Self::Slack,
        }
    }

    /// Its name in reports and rule files.
    pub fn name(self) -> &'static str {
        match self {
            Self::Overfull => "overfull",
            Self::Crowded => "crowded",
            Self::Tight => "tight",
            Self::Good => "good",
            Self::Loose => "loose",
            Self::Slack => "slack",
        }
    }
}

/// How far the force of a system is from the usual one of its movement: 0 is the usual, 1 is as if every note were twice as long, -1 half.
pub fn relative(force: f64, usual: f64) -> f64 {
    2.0 * (force / usual).log2()
}
