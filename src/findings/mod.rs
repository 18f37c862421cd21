//! Every number shown anywhere, computed once.
