//! A bar as springs and rods: where its columns stand under a force, and how wide that makes it.

use super::spring::Spring;
use crate::units::Sp;

/// What keeps two columns apart, whatever the force.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rod {
    /// Node it begins at: 0 is the bar line before the bar, 1 its first column.
    pub from: u32,
    /// Node it ends at, a later one; the last is the bar line after the bar.
    pub to: u32,
    /// Length below which signs touch.
    pub hard: Sp,
    /// Length that reads comfortably.
    pub comfortable: Sp,
}

impl Rod {
    /// Whether it keeps its nodes at least as far apart as another between the same nodes.
    pub(super) fn outdoes(&self, other: &Self) -> bool {
        other.hard <= self.hard && other.comfortable <= self.comfortable
    }

    /// Its nodes as one number, by where it ends and then by where it begins.
    fn nodes(&self) -> u64 {
        u64::from(self.to) << u32::BITS | u64::from(self.from)
    }
}

/// Springs from column to column, and rods between bar lines and columns.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Graph {
    springs: Vec<Spring>,
    /// By where they end.
    rods: Vec<Rod>,
}

impl Graph {
    /// A bar of these springs, one for each column, and rods in any order; they are in another one afterwards.
    pub fn new(springs: Vec<Spring>, rods: &mut [Rod]) -> Self {
        rods.sort_unstable_by_key(Rod::nodes);
        // Kept rods move to the front; `same` is the first of those kept between the same nodes as the one asked about.
        let (mut kept, mut same) = (0, 0);
        for next in 0..rods.len() {
            let rod = rods[next];
            if rods[same].nodes() != rod.nodes() {
                same = kept;
            }
            if rods[same..kept].iter().any(|one| one.outdoes(&rod)) {
                continue;
            }
            let mut index = same;
            while index < kept {
                if rod.outdoes(&rods[index]) {
                    kept -= 1;
                    rods[index] = rods[kept];
                } else {
                    index += 1;
                }
            }
            rods[kept] = rod;
            kept += 1;
        }
        Self { springs, rods: rods[..kept].to_vec() }
    }

    /// Where the columns stand and, last, the bar line, from the bar line before; `force` is 0 where rods alone hold them apart and 1
    /// where all stands naturally.
    pub fn positions(&self, force: f64) -> Vec<Sp> {
        let mut nodes = Vec::with_capacity(self.springs.len() + 2);
        self.place(force, &mut nodes);
        nodes.remove(0);
        nodes
    }

    /// Where the bar line stands.
    pub fn end(&self, force: f64, nodes: &mut Vec<Sp>) -> Sp {
        self.place(force, nodes);
        nodes.last().copied().unwrap_or_default()
    }

    /// Where all nodes stand under a force: the bar line before, the columns, the bar line after.
    pub(super) fn place(&self, force: f64, nodes: &mut Vec<Sp>) {
        nodes.clear();
        nodes.reserve(self.springs.len() + 2);
        let share = force.clamp(0.0, 1.0);
        let comfort = (2.0 * share - 1.0).clamp(0.0, 1.0);
        nodes.push(Sp::ZERO);
        let mut rods = &self.rods[..];
        let mut at = Sp::ZERO;
        // From the bar line before to the first column there is no spring.
        let springs = std::iter::once(Sp::ZERO).chain(self.springs.iter().map(|spring| spring.length * share));
        for (node, spring) in (1..).zip(springs) {
            at += spring;
            while let Some((rod, rest)) = rods.split_first().filter(|(rod, _)| rod.to == node) {
                at = at.max(nodes[rod.from as usize] + rod.hard + (rod.comfortable - rod.hard) * comfort);
                rods = rest;
            }
            nodes.push(at);
        }
        if force > 1.0 {
            let first = nodes.get(1).copied().unwrap_or_default();
            for node in nodes.iter_mut().skip(2) {
                *node = first + (*node - first) * force;
            }
        }
    }

    /// How willingly it stretches, by the length of its springs.
    pub fn give(&self) -> f64 {
        let all: Sp = self.springs.iter().map(|spring| spring.length).sum();
        let weighed: Sp = self.springs.iter().map(|spring| spring.length * spring.give).sum();
        weighed / all
    }
}
