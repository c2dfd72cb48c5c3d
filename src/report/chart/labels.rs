//! Where labels go so that they do not cover one another.

/// Width of a character relative to its size; a little more than the mean of common sans-serif fonts.
const CHARACTER: f64 = 0.58;

/// About how wide a text is, pixels.
pub(super) fn text_width(text: &str, size: f64) -> f64 {
    CHARACTER * size * text.chars().count() as f64
}

/// A text cut to a width, with an ellipsis where something was cut.
pub(super) fn fitted(text: &str, size: f64, width: f64) -> String {
    let room = (width / (CHARACTER * size)).max(1.0) as usize;
    if text.chars().count() <= room {
        return text.to_owned();
    }
    text.chars().take(room - 1).chain(['…']).collect()
}

/// Moves labels in a row apart: centers and widths in pixels, in rising order, between two ends. Where they do not all
/// fit, they keep their order and overlap at the left end.
pub(super) fn spread(centers: &[f64], widths: &[f64], low: f64, high: f64) -> Vec<f64> {
    let mut places: Vec<f64> = centers.to_vec();
    let mut free_from = low;
    for (place, width) in places.iter_mut().zip(widths) {
        *place = place.max(free_from + 0.5 * width);
        free_from = *place + 0.5 * width;
    }
    let mut free_to = high;
    for (place, width) in places.iter_mut().zip(widths).rev() {
        *place = place.min(free_to - 0.5 * width);
        free_to = *place - 0.5 * width;
    }
    places
}

/// A rectangle: left, top, right, bottom, pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Area {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Area {
    /// The box around a point.
    pub fn around((x, y): (f64, f64), half: f64) -> Area {
        Area { left: x - half, top: y - half, right: x + half, bottom: y + half }
    }

    fn overlap(&self, other: &Area) -> f64 {
        let wide = (self.right.min(other.right) - self.left.max(other.left)).max(0.0);
        let high = (self.bottom.min(other.bottom) - self.top.max(other.top)).max(0.0);
        wide * high
    }

    fn area(&self) -> f64 {
        (self.right - self.left) * (self.bottom - self.top)
    }
}

/// The box near a point where a text covers least of what is `taken` and stays `within`; right of the point if free.
pub(super) fn beside((x, y): (f64, f64), width: f64, height: f64, within: &Area, taken: &[Area]) -> Area {
    let gap = 8.0;
    let (right, left, middle) = (x + gap, x - gap - width, x - 0.5 * width);
    let (level, above, below) = (y - 0.5 * height, y - gap - height, y + gap);
    let corners = [
        (right, level),
        (left, level),
        (middle, above),
        (middle, below),
        (right, above),
        (right, below),
        (left, above),
        (left, below),
    ];
    let boxes = corners.map(|(left, top)| Area { left, top, right: left + width, bottom: top + height });
    let cost = |place: &Area| {
        let outside = place.area() - place.overlap(within);
        10.0 * outside + taken.iter().map(|other| place.overlap(other)).sum::<f64>()
    };
    boxes.into_iter().min_by(|a, b| cost(a).total_cmp(&cost(b))).unwrap_or(boxes[0])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_text_is_cut() {
        assert_eq!(fitted("äbcdefgh", 10.0, 24.0), "äbc…");
        assert_eq!(fitted("äbcd", 10.0, 24.0), "äbcd");
    }

    #[test]
    fn labels_in_a_row_do_not_touch() {
        let places = spread(&[10.0, 12.0, 95.0], &[20.0, 20.0, 20.0], 0.0, 100.0);
        assert_eq!(places, vec![10.0, 30.0, 90.0]);
    }

    #[test]
    fn a_label_avoids_what_is_there_and_the_edge() {
        let within = Area { left: 0.0, top: 0.0, right: 100.0, bottom: 100.0 };
        let free = beside((20.0, 50.0), 30.0, 10.0, &within, &[]);
        assert_eq!((free.left, free.top), (28.0, 45.0));
        let second = beside((20.0, 50.0), 30.0, 10.0, &within, &[free]);
        assert_eq!(second.overlap(&free), 0.0);
        assert_eq!(beside((95.0, 50.0), 30.0, 10.0, &within, &[]).right, 87.0);
    }
}
