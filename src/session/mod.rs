//! A survey on disk: its folder, its files, writing them safely and reading them back.
