//! The known name nearest to a misspelled one.

use super::renamed::renamed;

/// Longest name worth comparing, bytes; what is longer is no misspelling.
const LONGEST: usize = 80;

/// What the name was changed to, if a candidate is called so; else the candidate with the smallest edit distance to `name`, upper and lower case alike, if about a third of the letters
/// or fewer differ.
pub fn nearest<'a>(name: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    if name.len() > LONGEST {
        return None;
    }
    let candidates: Vec<&str> = candidates.collect();
    if let Some(new) = renamed(name)
        && let Some(known) = candidates.iter().find(|known| **known == new)
    {
        return Some(known);
    }
    let wanted = name.to_lowercase();
    let limit = (wanted.chars().count() / 3).max(1);
    candidates
        .into_iter()
        .map(|known| (strsim::damerau_levenshtein(&wanted, &known.to_lowercase()), known))
        .filter(|(distance, _)| *distance <= limit)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, known)| known)
}
