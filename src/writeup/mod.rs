//! What is handed to someone else: pages, figures, tables, exports.
