//! Write-up and exports, from a made-up survey to files: the same bytes each time, harmless whatever was typed, valid in
//! their forms, and silent about positions where asked.

#![expect(clippy::unwrap_used, reason = "what a test cannot read fails it")]
#![expect(
    clippy::case_sensitive_file_extension_comparisons,
    reason = "the names are the program's own"
)]

#[path = "../reference/rows.rs"]
#[expect(dead_code, reason = "other tables need the other readers")]
mod reference;

mod forms;
mod made;
mod outside;
mod page;
mod private;
mod together;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use assert_cmd::Command;

/// A folder of survey and results that goes away.
struct Desk {
    folder: tempfile::TempDir,
}

impl Desk {
    fn with(words: &made::Words) -> Self {
        let folder = tempfile::tempdir().unwrap();
        made::survey(&folder.path().join("2026-05-02-1941-orchard"), words);
        Self { folder }
    }

    fn survey(&self) -> PathBuf {
        self.folder.path().join("2026-05-02-1941-orchard")
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn run(&self, arguments: &[&str]) -> assert_cmd::assert::Assert {
        let mut command = Command::cargo_bin("farpace").unwrap();
        // Nothing this computer knows may show in what is written.
        command
            .env("HOME", self.folder.path())
            .current_dir(self.folder.path())
            .args(arguments)
            .assert()
    }

    fn report(&self, name: &str, more: &[&str]) -> BTreeMap<String, Vec<u8>> {
        let mut arguments = vec!["report", "2026-05-02-1941-orchard", "--out", name];
        arguments.extend(more);
        self.run(&arguments).success();
        files(&self.at(name))
    }

    fn export(&self, form: &str, more: &[&str]) -> String {
        let name = format!("out.{form}");
        let mut arguments = vec![
            "export",
            "2026-05-02-1941-orchard",
            "--as",
            form,
            "--out",
            &name,
            "--force",
        ];
        arguments.extend(more);
        self.run(&arguments).success();
        std::fs::read_to_string(self.at(&name)).unwrap()
    }
}

/// Every file below a folder, by its path.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in std::fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_string_lossy().into_owned();
                found.insert(name, std::fs::read(&path).unwrap());
            }
        }
    }
    found
}

/// The files of a report that are text.
fn texts(report: &BTreeMap<String, Vec<u8>>) -> impl Iterator<Item = (&str, &str)> {
    report
        .iter()
        .filter(|(name, _)| !name.ends_with(".png"))
        .map(|(name, bytes)| (name.as_str(), std::str::from_utf8(bytes).unwrap()))
}
