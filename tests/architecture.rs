//! The floors of the house: files import only from their own floor and those below it, and no files import each other
//! in a circle. Reads the `use` lines and the qualified paths of all sources; code under `#[cfg(test)]` is left out.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// The floors, the lowest first: a file may look at its own and at those above it in this list.
const FLOORS: [&str; 13] = [
    "error",
    "numerics",
    "inference",
    "units",
    "model",
    "records",
    "physics",
    "sweep",
    "fit",
    "diagnose",
    "decide",
    "report",
    "lib",
];

/// The floors of the binding.
const FLOORS_OF_BINDING: [&str; 6] = ["convert", "settings", "records", "results", "calls", "lib"];

/// Circles that are still there, each with the files in it. To be mended one by one, and then struck off: it ends
/// empty.
const KNOWN: &[&[&str]] = &[];

/// A name bound to the path that it stands for.
type Binding = (String, Vec<String>);

/// What one file says of others: paths from the root of its crate.
#[derive(Debug, Default, PartialEq)]
struct Imports {
    /// Paths that its code needs.
    needed: BTreeSet<Vec<String>>,
    /// Names that it only hands on (`pub use`).
    handed_on: Vec<Binding>,
}

/// Identifiers and the punctuation that matters, without comments, texts, attributes' contents and lifetimes.
fn tokens(text: &str) -> Vec<String> {
    let c: Vec<char> = text.chars().collect();
    let (mut out, mut i) = (Vec::new(), 0);
    while i < c.len() {
        let next = c.get(i + 1).copied().unwrap_or(' ');
        match c[i] {
            '/' if next == '/' => i = line_end(&c, i),
            '/' if next == '*' => i = past(&c, i + 2, "*/"),
            '"' => i = text_end(&c, i + 1),
            'r' if (next == '"' || next == '#') && raw_hashes(&c, i + 1).is_some() && !is_word(&c, i) => {
                let hashes = raw_hashes(&c, i + 1).unwrap_or(0);
                i = past(&c, i + 2 + hashes, &format!("\"{}", "#".repeat(hashes)));
            }
            '\'' if next == '\\' => i = past(&c, i + 3, "'"),
            '\'' if c.get(i + 2) == Some(&'\'') => i += 3,
            ':' if next == ':' => {
                out.push("::".to_owned());
                i += 2;
            }
            x if x.is_alphabetic() || x == '_' => {
                let from = i;
                while i < c.len() && (c[i].is_alphanumeric() || c[i] == '_') {
                    i += 1;
                }
                out.push(c[from..i].iter().collect());
            }
            x => {
                if !x.is_whitespace() {
                    out.push(x.to_string());
                }
                i += 1;
            }
        }
    }
    out
}

fn is_word(c: &[char], at: usize) -> bool {
    at > 0 && (c[at - 1].is_alphanumeric() || c[at - 1] == '_')
}

fn line_end(c: &[char], from: usize) -> usize {
    (from..c.len()).find(|&i| c[i] == '\n').unwrap_or(c.len())
}

fn text_end(c: &[char], mut i: usize) -> usize {
    while i < c.len() && c[i] != '"' {
        i += if c[i] == '\\' { 2 } else { 1 };
    }
    i + 1
}

/// How many hashes stand before the quote of a raw text, if it is one.
fn raw_hashes(c: &[char], from: usize) -> Option<usize> {
    let hashes = c[from..].iter().take_while(|x| **x == '#').count();
    (c.get(from + hashes) == Some(&'"')).then_some(hashes)
}

fn past(c: &[char], from: usize, end: &str) -> usize {
    let end: Vec<char> = end.chars().collect();
    (from..c.len()).find(|&i| c[i..].starts_with(&end)).map_or(c.len(), |i| i + end.len())
}

/// The index after the bracket that closes the one at `from`.
fn closed(t: &[String], from: usize, open: &str, close: &str) -> usize {
    let mut depth = 0;
    for (i, token) in t.iter().enumerate().skip(from) {
        depth += i32::from(token == open) - i32::from(token == close);
        if depth == 0 {
            return i + 1;
        }
    }
    t.len()
}

/// Reads the imports of the file that is this module.
fn imports(module: &[String], text: &str) -> Imports {
    let t = tokens(text);
    let mut found = Imports::default();
    read(&t, 0, t.len(), module, &mut found);
    found
}

fn read(t: &[String], mut i: usize, end: usize, module: &[String], found: &mut Imports) {
    let is = |at: usize, what: &str| t.get(at).is_some_and(|x| x == what);
    while i < end {
        if is(i, "#") && is(i + 1, "[") {
            let after = closed(t, i + 1, "[", "]");
            let of_tests =
                is(i + 2, "cfg") && t[i..after].iter().any(|x| x == "test") && !t[i..after].iter().any(|x| x == "not");
            i = if of_tests { item_end(t, after) } else { after };
        } else if is(i, "mod") && is(i + 2, "{") {
            let inner: Vec<String> = module.iter().cloned().chain([t[i + 1].clone()]).collect();
            let after = closed(t, i + 2, "{", "}");
            read(t, i + 3, after - 1, &inner, found);
            i = after;
        } else if is(i, "use") {
            let after = (i..end).find(|&k| t[k] == ";").unwrap_or(end);
            let mut bindings = Vec::new();
            tree(&t[i + 1..after], &[], &mut bindings);
            let public = i > 0 && (is(i - 1, "pub") || is(i - 1, ")"));
            for (name, path) in bindings {
                let path = from_root(module, path);
                if public {
                    found.handed_on.push((name, path));
                } else {
                    found.needed.insert(path);
                }
            }
            i = after;
        } else if is(i + 1, "::") && !(i > 0 && is(i - 1, "::")) {
            let mut path = vec![t[i].clone()];
            while is(i + 1, "::")
                && t.get(i + 2).is_some_and(|x| x.starts_with(|c: char| c.is_alphabetic() || c == '_'))
            {
                path.push(t[i + 2].clone());
                i += 2;
            }
            found.needed.insert(from_root(module, path));
            i += 1;
        } else {
            i += 1;
        }
    }
}

/// Where the item that starts here ends: at its semicolon or closing brace.
fn item_end(t: &[String], from: usize) -> usize {
    let mut i = from;
    while i < t.len() {
        match t[i].as_str() {
            ";" => return i + 1,
            "{" => return closed(t, i, "{", "}"),
            "(" => i = closed(t, i, "(", ")"),
            "[" => i = closed(t, i, "[", "]"),
            _ => i += 1,
        }
    }
    i
}

/// The names that a tree of `use` binds, each with its path.
fn tree(t: &[String], before: &[String], out: &mut Vec<Binding>) {
    let mut path = before.to_vec();
    let mut i = 0;
    while i < t.len() {
        match t[i].as_str() {
            "::" => i += 1,
            "{" => {
                let after = closed(t, i, "{", "}");
                for part in commas(&t[i + 1..after - 1]) {
                    tree(part, &path, out);
                }
                return;
            }
            "as" => {
                out.push((t[i + 1].clone(), path));
                return;
            }
            name => {
                if name != "self" || path.is_empty() {
                    path.push(name.to_owned());
                }
                i += 1;
            }
        }
    }
    if path.len() > before.len() || !path.is_empty() {
        out.push((path.last().cloned().unwrap_or_default(), path));
    }
}

fn commas(t: &[String]) -> Vec<&[String]> {
    let (mut out, mut from, mut depth) = (Vec::new(), 0, 0);
    for (i, token) in t.iter().enumerate() {
        depth += i32::from(token == "{") - i32::from(token == "}");
        if token == "," && depth == 0 {
            out.push(&t[from..i]);
            from = i + 1;
        }
    }
    out.push(&t[from..]);
    out.retain(|part| !part.is_empty());
    out
}

/// A path as it is seen from the root: `crate`, `self` and `super` replaced; any other as it would be from this module.
fn from_root(module: &[String], path: Vec<String>) -> Vec<String> {
    let mut at = module.to_vec();
    let mut rest = path.into_iter().peekable();
    match rest.peek().map(String::as_str) {
        Some("crate") => {
            at.clear();
            rest.next();
        }
        Some("self") => {
            rest.next();
        }
        _ => {}
    }
    while rest.next_if(|part| part == "super").is_some() {
        at.pop();
    }
    at.extend(rest);
    at
}

/// All files of a crate by their modules.
struct House {
    files: BTreeMap<Vec<String>, String>,
    imports: BTreeMap<Vec<String>, Imports>,
}

/// A file, another that it needs, and the path that ties them.
type Tie = (String, String, String);

impl House {
    /// From names of files, below the crate's `src`, with their texts.
    fn of(texts: &[(String, String)]) -> House {
        let module = |name: &str| -> Vec<String> {
            let parts = name.trim_end_matches(".rs").split('/').map(str::to_owned);
            parts.filter(|part| part != "mod" && part != "lib").collect()
        };
        let is_test = |name: &str| name.ends_with("tests.rs");
        let kept = || texts.iter().filter(|(name, _)| !is_test(name));
        House {
            files: kept().map(|(name, _)| (module(name), name.clone())).collect(),
            imports: kept().map(|(name, text)| (module(name), imports(&module(name), text))).collect(),
        }
    }

    /// From a directory.
    fn read(src: &Path) -> House {
        let mut texts = Vec::new();
        collect(src, src, &mut texts);
        assert!(texts.len() > 20, "{} has hardly any sources", src.display());
        House::of(&texts)
    }

    /// The file that a path leads to: through modules, then through what is only handed on.
    fn file_of(&self, path: &[String], depth: usize) -> Option<&String> {
        let modules = (1..=path.len()).rev().find(|&n| self.files.contains_key(&path[..n]))?;
        let at = &path[..modules];
        let handed = path.get(modules).and_then(|name| {
            let found = self.imports[at].handed_on.iter().find(|(bound, _)| bound == name);
            found.filter(|_| depth < 8).and_then(|(_, to)| self.file_of(to, depth + 1))
        });
        handed.or_else(|| self.files.get(at))
    }

    /// Every file with the files that it needs.
    fn ties(&self) -> Vec<Tie> {
        let mut out = Vec::new();
        for (module, from) in &self.files {
            for path in &self.imports[module].needed {
                if let Some(to) = self.file_of(path, 0).filter(|to| *to != from) {
                    out.push((from.clone(), to.clone(), path.join("::")));
                }
            }
        }
        out
    }
}

fn collect(root: &Path, at: &Path, out: &mut Vec<(String, String)>) {
    let mut entries: Vec<_> = fs::read_dir(at).expect("a directory").flatten().map(|e| e.path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            collect(root, &path, out);
        } else if path.extension().is_some_and(|x| x == "rs") {
            let name = path.strip_prefix(root).expect("below the root").to_string_lossy().replace('\\', "/");
            out.push((name, fs::read_to_string(&path).expect("a source")));
        }
    }
}

/// Imports that run up the list of floors.
fn upwards(floors: &[&str], ties: &[Tie]) -> Vec<String> {
    let floor = |file: &str| {
        let name = file.split('/').next().unwrap_or_default().trim_end_matches(".rs");
        floors.iter().position(|f| *f == name).unwrap_or_else(|| panic!("{file} stands on no floor: add it to FLOORS"))
    };
    let up = ties.iter().filter(|(from, to, _)| floor(to) > floor(from));
    up.map(|(from, to, path)| format!("{from} looks up at {to}: {path}")).collect()
}

/// Groups of files each of which needs every other, directly or through others.
fn circles(ties: &[Tie]) -> Vec<BTreeSet<&str>> {
    let mut reached: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for (from, to, _) in ties {
        reached.entry(from).or_default().insert(to);
    }
    loop {
        let before: usize = reached.values().map(BTreeSet::len).sum();
        for file in reached.keys().copied().collect::<Vec<_>>() {
            let more: BTreeSet<&str> =
                reached[file].iter().flat_map(|to| reached.get(to).into_iter().flatten().copied()).collect();
            reached.entry(file).or_default().extend(more);
        }
        if reached.values().map(BTreeSet::len).sum::<usize>() == before {
            break;
        }
    }
    let mut found: Vec<BTreeSet<&str>> = Vec::new();
    for (file, to) in reached.iter().filter(|(file, to)| to.contains(*file)) {
        let group: BTreeSet<&str> =
            to.iter().filter(|other| reached.get(**other).is_some_and(|r| r.contains(file))).copied().collect();
        if !found.contains(&group) {
            found.push(group);
        }
    }
    found
}

/// What ties the files of a circle, in words.
fn described(circle: &BTreeSet<&str>, ties: &[Tie]) -> String {
    let inside = |tie: &&Tie| circle.contains(tie.0.as_str()) && circle.contains(tie.1.as_str());
    let lines: Vec<String> =
        ties.iter().filter(inside).map(|(a, b, path)| format!("    {a} needs {b}: {path}")).collect();
    format!("a circle:\n{}", lines.join("\n"))
}

fn is_known(circle: &BTreeSet<&str>) -> bool {
    KNOWN.iter().any(|known| circle.iter().all(|file| known.contains(file)))
}

#[test]
fn files_look_only_down() {
    for (src, floors, least) in [("src", &FLOORS[..], 300), ("python/src", &FLOORS_OF_BINDING, 100)] {
        let ties = House::read(Path::new(src)).ties();
        assert!(ties.len() > least, "only {} imports were found", ties.len());
        let wrong = upwards(floors, &ties);
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }
}

#[test]
fn no_files_need_each_other() {
    for src in ["src", "python/src"] {
        let ties = House::read(Path::new(src)).ties();
        let found = circles(&ties);
        let new: Vec<String> = found.iter().filter(|c| !is_known(c)).map(|c| described(c, &ties)).collect();
        assert!(new.is_empty(), "{src} has {}", new.join("\n"));
    }
}

fn house(texts: &[(&str, &str)]) -> Vec<Tie> {
    let owned: Vec<(String, String)> =
        texts.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
    House::of(&owned).ties()
}

fn read_paths(module: &str, text: &str) -> Vec<String> {
    let module: Vec<String> = module.split("::").map(str::to_owned).collect();
    imports(&module, text).needed.iter().map(|path| path.join("::")).collect()
}

#[test]
fn the_reader_finds_trees_paths_and_supers() {
    let text = "use crate::a::{B, c::{self, D as E}}; use super::f; fn g() { crate::h::i::J::new(); k::l(); }";
    assert_eq!(read_paths("m::n", text), ["a::B", "a::c", "a::c::D", "h::i::J::new", "m::f", "m::n::k::l"]);
    assert_eq!(read_paths("m::n", "mod inner { use super::super::p::Q; }"), ["m::p::Q"]);
}

#[test]
fn the_reader_skips_comments_texts_and_tests() {
    let text = r##"
        //! crate::a::A
        /* use crate::b::B; */
        const X: &str = "use crate::c::C;"; const Y: &str = r#"crate::d::"D""#; const Z: char = '"';
        #[cfg(test)]
        mod tests { use crate::e::E; }
        #[cfg(test)]
        use crate::f::F;
        #[cfg(not(test))]
        use crate::g::G;
    "##;
    assert_eq!(read_paths("m", text), ["g::G"]);
}

#[test]
fn a_look_up_and_a_circle_are_found() {
    let ties = house(&[
        ("numerics/mod.rs", "pub mod root; pub use root::find;"),
        ("numerics/root.rs", "use crate::fit::cups::Cup;"),
        ("fit/mod.rs", "mod cups; mod molds; pub use cups::Cup; pub use molds::Mold;"),
        ("fit/cups.rs", "use crate::numerics::find; use super::Mold;"),
        ("fit/molds.rs", "fn f() { super::cups::g(); }"),
    ]);
    assert_eq!(upwards(&FLOORS, &ties), ["numerics/root.rs looks up at fit/cups.rs: fit::cups::Cup"]);
    let found = circles(&ties);
    assert_eq!(found, [["fit/cups.rs", "fit/molds.rs", "numerics/root.rs"].into_iter().collect()]);
    assert!(described(&found[0], &ties).contains("fit/molds.rs needs fit/cups.rs: fit::cups::g"));
}

#[test]
fn what_a_table_of_contents_hands_on_is_no_circle() {
    let ties =
        house(&[("fit/mod.rs", "mod cups; pub use cups::Cup; pub struct Rule;"), ("fit/cups.rs", "use super::Rule;")]);
    assert_eq!(ties.len(), 1);
    assert!(circles(&ties).is_empty() && upwards(&FLOORS, &ties).is_empty());
}
