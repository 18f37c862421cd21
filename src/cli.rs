//! Every flag and its help.
