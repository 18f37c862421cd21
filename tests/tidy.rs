//! What each folder may know, checked on the source itself: imports, clocks, threads, files, terminals, leftovers.
//!
//! Rust enforces no borders inside a crate. The reasons behind the table stand in DEVELOPERS.md.

#![expect(clippy::unwrap_used, reason = "a source file that cannot be read is a failed test")]

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// What each folder (or file at the top) may import of this crate.
const MAY_IMPORT: [(&str, &[&str]); 16] = [
    ("units", &[]),
    ("stats", &[]),
    ("sources", &[]),
    ("link", &["units"]),
    ("ground", &["units"]),
    ("propagation", &["units", "link", "ground"]),
    ("wire", &["units", "link", "ground"]),
    // Journal lines are understood in one place, so that live, replayed and rebuilt surveys cannot differ.
    ("survey", &["units", "link", "ground", "wire"]),
    // `points.csv` holds figures, and every figure is computed in `findings`.
    ("session", &["survey", "units", "link", "ground", "wire", "findings"]),
    ("rehearsal", &["units", "link", "ground", "propagation", "wire"]),
    (
        "findings",
        &["survey", "stats", "propagation", "units", "link", "ground", "wire"],
    ),
    (
        "screens",
        &[
            "findings",
            "survey",
            "stats",
            "propagation",
            "units",
            "link",
            "ground",
            "wire",
        ],
    ),
    (
        "writeup",
        &[
            "findings",
            "survey",
            "stats",
            "propagation",
            "units",
            "link",
            "ground",
            "wire",
        ],
    ),
    ("cli", &["units", "link", "ground"]),
    (
        "app",
        &[
            "units",
            "ground",
            "link",
            "propagation",
            "stats",
            "wire",
            "survey",
            "session",
            "findings",
            "screens",
            "writeup",
            "rehearsal",
            "sources",
            "cli",
        ],
    ),
    ("main", &["app", "cli"]),
];

/// Names of words, folders or files.
type Names = &'static [&'static str];

/// Words that only some folders may say: the words, who may, and single files that may, with the reason.
const BORDERS: [(&str, Names, Names, Names); 7] = [
    ("the terminal", &["ratatui", "crossterm"], &["screens", "app"], &[]),
    ("threads", &["std::thread", "thread::"], &["sources", "app"], &[]),
    (
        "the clock",
        &["Instant::now", "SystemTime::now", "Timestamp::now", "Zoned::now"],
        &["app"],
        &[],
    ),
    (
        "files",
        &["std::fs", "fs_err", "File::open", "File::create"],
        &["sources", "session", "app"],
        &[],
    ),
    (
        "the command line's parser",
        &["clap"],
        &["cli", "main"],
        // A completion script is made from the parser itself.
        &["app/run.rs"],
    ),
    (
        "a random source of its own",
        &[
            "rand::rng(",
            "thread_rng",
            "from_os_rng",
            "from_entropy",
            "SysRng",
            "OsRng",
        ],
        &[],
        &[],
    ),
    (
        "standard output and error",
        &["println!", "print!", "eprintln!", "eprint!", "io::stdout", "io::stderr"],
        &["app"],
        &[],
    ),
];

/// The longest a file may be before its tests.
const LONGEST: usize = 500;

/// Files that are longer, each with its reason.
const LONGER: [(&str, &str); 1] = [(
    "screens/start/setup_page.rs",
    "each line of the set-up with what Enter does on it and what its absence costs",
)];

/// A source file of the crate.
struct Source {
    /// Below `src`, with slashes.
    name: String,
    /// As it stands.
    text: String,
    /// Without comments, and without the tests at its end.
    code: String,
}

impl Source {
    /// Its folder, or its own name where it lies at the top.
    fn folder(&self) -> &str {
        let first = self.name.split('/').next().unwrap();
        first.strip_suffix(".rs").unwrap_or(first)
    }

    fn is_contents_page(&self) -> bool {
        self.name.ends_with("mod.rs") || self.name == "lib.rs"
    }
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn files(below: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(below).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
}

/// Every source file that is part of the program itself: files that only tests are made of are left out.
fn sources() -> Vec<Source> {
    let mut paths = Vec::new();
    files(&root(), &mut paths);
    paths.sort();
    let all: Vec<Source> = paths
        .iter()
        .map(|path| {
            let text = std::fs::read_to_string(path).unwrap();
            let relative = path.strip_prefix(root()).unwrap();
            let parts: Vec<_> = relative.iter().map(|part| part.to_str().unwrap()).collect();
            Source {
                name: parts.join("/"),
                code: code_of(&text),
                text,
            }
        })
        .collect();
    let tests_only: Vec<String> = all.iter().flat_map(test_files).collect();
    assert!(all.len() > 150, "only {} files", all.len());
    all.into_iter()
        .filter(|source| !tests_only.contains(&source.name))
        .collect()
}

/// Where the module of a file looks for its own modules, with a slash at the end.
fn folder_of_modules(name: &str) -> String {
    match name {
        "lib.rs" | "main.rs" => String::new(),
        _ => match name.strip_suffix("mod.rs") {
            Some(folder) => folder.to_owned(),
            None => format!("{}/", name.strip_suffix(".rs").unwrap()),
        },
    }
}

/// The files that a file takes in for its tests alone.
fn test_files(source: &Source) -> Vec<String> {
    let lines: Vec<&str> = source.text.lines().map(str::trim).collect();
    lines
        .windows(2)
        .filter(|pair| pair[0] == "#[cfg(test)]")
        .filter_map(|pair| pair[1].strip_prefix("mod ")?.strip_suffix(';'))
        .map(|module| format!("{}{module}.rs", folder_of_modules(&source.name)))
        .collect()
}

/// A file without comments, and without the tests at its end.
fn code_of(text: &str) -> String {
    let mut code = String::new();
    for line in before_tests(text).lines() {
        let line = if line.trim_start().starts_with("//") {
            ""
        } else {
            line.split(" // ").next().unwrap()
        };
        writeln!(code, "{line}").unwrap();
    }
    code
}

fn before_tests(text: &str) -> &str {
    let end = text.find("\n#[cfg(test)]\nmod tests {").unwrap_or(text.len());
    &text[..end]
}

/// The first names of every path that begins with `prefix` (`crate::`), groups in braces included.
fn imported(code: &str, prefix: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for (at, _) in code.match_indices(prefix) {
        let before = code[..at].chars().next_back();
        if before.is_some_and(|before| before.is_alphanumeric() || before == '_') {
            continue;
        }
        let rest = &code[at + prefix.len()..];
        let Some(group) = rest.strip_prefix('{') else {
            names.insert(first_word(rest));
            continue;
        };
        let mut depth = 1;
        let mut begins = true;
        for (position, letter) in group.char_indices() {
            match letter {
                '{' => depth += 1,
                '}' => depth -= 1,
                ',' => begins = depth == 1,
                _ if letter.is_whitespace() => {}
                _ if begins => {
                    names.insert(first_word(&group[position..]));
                    begins = false;
                }
                _ => {}
            }
            if depth == 0 {
                break;
            }
        }
    }
    names
}

fn first_word(text: &str) -> String {
    text.chars()
        .take_while(|letter| letter.is_alphanumeric() || *letter == '_')
        .collect()
}

/// Whether `word` stands in the code, not as the end of a longer word.
fn says(code: &str, word: &str) -> bool {
    code.match_indices(word).any(|(at, _)| {
        let before = code[..at].chars().next_back();
        !before.is_some_and(|before| before.is_alphanumeric() || before == '_')
    })
}

fn assert_none(wrong: &[String]) {
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn folders_import_what_they_may() {
    let mut wrong = Vec::new();
    for source in sources() {
        if source.name == "lib.rs" {
            continue;
        }
        let folder = source.folder();
        let Some((_, may)) = MAY_IMPORT.iter().find(|(name, _)| *name == folder) else {
            wrong.push(format!("{}: its folder is not in the table", source.name));
            continue;
        };
        let mut names = imported(&source.code, "crate::");
        if folder == "main" {
            names.extend(imported(&source.code, "farpace::"));
        }
        for name in names {
            if name != folder && !may.contains(&name.as_str()) {
                wrong.push(format!("{}: `{folder}` may not import `{name}`", source.name));
            }
        }
    }
    assert_none(&wrong);
}

#[test]
fn nobody_climbs_out_of_a_folder() {
    let mut wrong = Vec::new();
    for source in sources() {
        let below = source.name.matches('/').count();
        let depth = if source.is_contents_page() {
            below.saturating_sub(1)
        } else {
            below
        };
        if source.code.contains(&"super::".repeat(depth + 1)) {
            wrong.push(format!("{}: reaches another folder by `super`", source.name));
        }
    }
    assert_none(&wrong);
}

#[test]
fn the_edges_stay_at_the_edges() {
    let mut wrong = Vec::new();
    for source in sources() {
        for (what, words, folders, files) in BORDERS {
            if folders.contains(&source.folder()) || files.contains(&source.name.as_str()) {
                continue;
            }
            for word in words.iter().filter(|word| says(&source.code, word)) {
                wrong.push(format!("{}: `{word}`: {what} is for {folders:?} only", source.name));
            }
        }
    }
    assert_none(&wrong);
}

#[test]
fn nothing_was_left_lying_about() {
    let mut paths = Vec::new();
    let project = Path::new(env!("CARGO_MANIFEST_DIR"));
    for folder in ["src", "tests"] {
        files(&project.join(folder), &mut paths);
    }
    // Put together here, so that this file does not find itself.
    let words = [
        ["TO", "DO"].concat(),
        ["FIX", "ME"].concat(),
        ["XX", "X"].concat(),
        ["todo", "!("].concat(),
        ["unimplemented", "!("].concat(),
        ["dbg", "!("].concat(),
    ];
    let mut wrong = Vec::new();
    for path in paths {
        let text = std::fs::read_to_string(&path).unwrap();
        for (number, line) in text.lines().enumerate() {
            for word in words.iter().filter(|word| line.contains(word.as_str())) {
                wrong.push(format!("{}:{}: `{word}`", path.display(), number + 1));
            }
        }
    }
    assert_none(&wrong);
}

#[test]
fn contents_pages_hold_no_logic() {
    let mut wrong = Vec::new();
    for source in sources().iter().filter(|source| source.is_contents_page()) {
        if !source.text.starts_with("//! ") {
            wrong.push(format!("{}: does not say what the folder is for", source.name));
        }
        let code: String = source
            .code
            .lines()
            .filter(|line| !line.trim_start().starts_with("#["))
            .collect::<Vec<_>>()
            .join(" ");
        for statement in code.split(';').map(str::trim).filter(|statement| !statement.is_empty()) {
            let bare = statement
                .trim_start_matches("pub(crate) ")
                .trim_start_matches("pub(super) ")
                .trim_start_matches("pub ");
            if !bare.starts_with("mod ") && !bare.starts_with("use ") {
                wrong.push(format!("{}: `{statement}`", source.name));
            }
        }
    }
    assert_none(&wrong);
}

#[test]
fn every_file_is_part_of_the_crate() {
    let all = sources();
    let mut wrong = Vec::new();
    for source in &all {
        if ["lib.rs", "main.rs"].contains(&source.name.as_str()) {
            continue;
        }
        let module = source.name.strip_suffix(".rs").unwrap();
        let module = module.strip_suffix("/mod").unwrap_or(module);
        let (folder, name) = module.rsplit_once('/').unwrap_or(("", module));
        let folder = if folder.is_empty() {
            String::new()
        } else {
            format!("{folder}/")
        };
        let named = all
            .iter()
            .filter(|parent| folder_of_modules(&parent.name) == folder)
            .any(|parent| says(&parent.code, &format!("mod {name};")));
        if !named {
            wrong.push(format!("{}: no module names it", source.name));
        }
    }
    assert_none(&wrong);
}

#[test]
fn a_file_is_one_idea() {
    let mut wrong = Vec::new();
    for source in sources() {
        let lines = before_tests(&source.text).lines().count();
        let listed = LONGER.iter().any(|(name, _)| *name == source.name);
        if lines > LONGEST && !listed {
            wrong.push(format!("{}: {lines} lines before its tests", source.name));
        }
        if lines <= LONGEST && listed {
            wrong.push(format!("{}: short enough, and still listed as too long", source.name));
        }
    }
    assert_none(&wrong);
}

#[test]
fn this_test_sees_what_it_is_to_see() {
    let names = |code: &str| imported(code, "crate::").into_iter().collect::<Vec<_>>().join(" ");
    assert_eq!(names("use crate::units::Metres;"), "units");
    assert_eq!(
        names("use crate::{\n    units::{Db, Metres},\n    wire::Echo, link,\n};"),
        "link units wire"
    );
    assert_eq!(
        names("let here = crate::ground::Position::new(a, crate::units::b);"),
        "ground units"
    );
    assert_eq!(names("use other_crate::app;"), "");
    assert_eq!(
        code_of("//! crate::a\nlet b = 1; // crate::c\n\n#[cfg(test)]\nmod tests {\n}\n").trim(),
        "let b = 1;"
    );
    assert!(says("use clap::Parser;", "clap") && !says("overclap", "clap"));
    assert!(says("eprintln!()", "eprintln!") && !says("eprintln!()", "println!"));
    let source = Source {
        name: "stats/places/mod.rs".into(),
        text: "#[cfg(test)]\nmod reference;\n".into(),
        code: String::new(),
    };
    assert_eq!(test_files(&source), ["stats/places/reference.rs"]);
}
