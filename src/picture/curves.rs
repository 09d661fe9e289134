//! Ties and slurs.

use super::Lines;
use super::notes::{Chord, HEAD};
use super::pen::Pen;
use crate::score::{Tone, Traits};

/// Ties and slurs on their way.
#[derive(Default)]
pub(super) struct Slurs {
    open: Vec<Curve>,
}

/// One of them.
struct Curve {
    voice: usize,
    /// What is tied; nothing for a slur.
    tone: Option<Tone>,
    from: [f64; 2],
    above: bool,
    /// What it must clear on its way: the highest for a curve above, the lowest for one below.
    clears: f64,
}

impl Slurs {
    pub fn take(&mut self, chords: &[Chord], voice: usize, lines: Lines, pen: &mut Pen) {
        let space = lines.space;
        for chord in chords {
            let middle = chord.x + HEAD[0] * chord.size * space;
            for (note, steps) in &chord.notes {
                let y = lines.y(*steps) + if chord.up { 0.7 } else { -0.7 } * space;
                if note.traits.contains(Traits::TIE_STOP) {
                    self.close(voice, Some(note.tone), |curve| [middle - 0.5 * space, curve.from[1]], space, pen);
                }
                if note.traits.contains(Traits::TIE_START) {
                    let from = [middle + 0.5 * space, y];
                    self.open.push(Curve { voice, tone: Some(note.tone), from, above: !chord.up, clears: y });
                }
            }
            let (near, far) = chord.reach();
            let stem = if chord.has_stem { chord.end } else { lines.y(near) };
            // Upper and lower end of the chord, its stem among them.
            let (top, bottom) = if chord.up { (stem, lines.y(far)) } else { (lines.y(far), stem) };
            let (top, bottom) = (top.min(lines.y(near)) - 0.9 * space, bottom.max(lines.y(near)) + 0.9 * space);
            for curve in self.open.iter_mut().filter(|curve| curve.voice == voice && curve.tone.is_none()) {
                curve.clears = if curve.above { curve.clears.min(top) } else { curve.clears.max(bottom) };
            }
            let any = |trait_: Traits| chord.notes.iter().any(|(note, _)| note.traits.contains(trait_));
            if any(Traits::SLUR_STOP) {
                self.close(voice, None, |curve| [middle, if curve.above { top } else { bottom }], space, pen);
            }
            if any(Traits::SLUR_START) {
                let (above, y) = if chord.up { (false, bottom) } else { (true, top) };
                self.open.push(Curve { voice, tone: None, from: [middle, y], above, clears: y });
            }
        }
    }

    fn close(&mut self, voice: usize, tone: Option<Tone>, to: impl Fn(&Curve) -> [f64; 2], space: f64, pen: &mut Pen) {
        if let Some(place) = self.open.iter().rposition(|curve| curve.voice == voice && curve.tone == tone) {
            let curve = self.open.remove(place);
            curve.draw(to(&curve), space, pen);
        }
    }

    /// What goes on in the next system ends at the end of this one.
    pub fn finish(self, end: f64, lines: Lines, pen: &mut Pen) {
        for curve in self.open {
            curve.draw([end - 0.3 * lines.space, curve.from[1]], lines.space, pen);
        }
    }
}

impl Curve {
    fn draw(&self, to: [f64; 2], space: f64, pen: &mut Pen) {
        let from = self.from;
        let width = to[0] - from[0];
        if width <= 0.0 {
            return;
        }
        let away = if self.above { -1.0 } else { 1.0 };
        let [x, y] = from;
        // As high as it looks well, and as what it passes over wants, within reason.
        let usual = 0.6 + (width / space).min(30.0) * 0.05;
        let passed = (self.clears - f64::midpoint(y, to[1])) * away / space + 0.3;
        let lift = usual.max(passed.min(6.0)) * space * away;
        let thick = 0.22 * space * away;
        let control = |share: f64, more: f64| [x + width * share, y + (to[1] - y) * share + (lift + more) * 4.0 / 3.0];
        let shape: [(char, &[[f64; 2]]); 3] = [
            ('M', &[from]),
            ('C', &[control(0.25, 0.0), control(0.75, 0.0), to]),
            ('C', &[control(0.75, thick), control(0.25, thick), from]),
        ];
        pen.fill([0.0, 0.0], 1.0, &shape);
    }
}
