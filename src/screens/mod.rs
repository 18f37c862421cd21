//! What the surveyor sees: keys, theme, layouts, one panel a file.
