//! Serial ports, sockets and files: bytes to lines, reconnecting by themselves.
