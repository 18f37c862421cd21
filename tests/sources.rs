//! Sources against real sockets, files and pseudo-terminals: what comes out, and what becomes of a source that breaks.
//!
//! Nothing here depends on how fast things go: every wait is for something to happen, with a limit far above need.
#![cfg(unix)]
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a test's helper fails by panicking, as the test does"
)]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream, UdpSocket};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use crossbeam_channel::{Receiver, Sender, bounded, unbounded};
use farpace::sources::pty::{PtyPair, Written};
use farpace::sources::{
    Address, FoundPort, Handle, Happening, Heard, Kit, PortState, RawLine, Role, Stamp, UsbDevice, open, open_auto,
    probe,
};

const LIMIT: Duration = Duration::from_secs(60);

/// A clock that counts how often it was asked, so that stamps can be told apart without looking at the time.
fn counting_clock() -> impl Fn() -> Stamp {
    let asked = AtomicU64::new(0);
    move || Stamp {
        elapsed_us: asked.fetch_add(1, Ordering::SeqCst) + 1,
        utc_ms: 1_000,
    }
}

fn classify(line: &[u8]) -> Heard {
    let text = String::from_utf8_lossy(line);
    if text.starts_with('$') {
        Heard::Position(None)
    } else if let Some(rest) = text.strip_prefix("hello board=") {
        Heard::Node(Some(rest.to_owned()))
    } else if text.starts_with("echo n=") || text.starts_with("lost n=") {
        Heard::Node(None)
    } else {
        Heard::Nothing
    }
}

fn kit() -> Kit {
    kit_with_ports(&Arc::new(Mutex::new(Vec::new())))
}

fn kit_with_ports(ports: &Arc<Mutex<Vec<FoundPort>>>) -> Kit {
    let mut kit = Kit::new(Arc::new(counting_clock()), classify);
    let ports = Arc::clone(ports);
    kit.ports = Arc::new(move || ports.lock().unwrap().clone());
    kit
}

type Told = (Role, Happening);

fn start(address: &str, role: Role) -> (Handle, Receiver<Told>) {
    start_with(address, role, &kit(), unbounded())
}

fn start_with(
    address: &str,
    role: Role,
    kit: &Kit,
    channel: (Sender<Told>, Receiver<Told>),
) -> (Handle, Receiver<Told>) {
    let address: Address = address.parse().unwrap();
    (open(&address, role, kit, channel.0), channel.1)
}

fn next(told: &Receiver<Told>) -> Happening {
    told.recv_timeout(LIMIT).expect("nothing happened").1
}

fn next_line(told: &Receiver<Told>) -> RawLine {
    match next(told) {
        Happening::Line(line) => line,
        other => panic!("a line was due, not {other:?}"),
    }
}

fn next_text(told: &Receiver<Told>) -> String {
    String::from_utf8(next_line(told).bytes).unwrap()
}

fn next_up(told: &Receiver<Told>) -> String {
    match next(told) {
        Happening::Up { address } => address,
        other => panic!("the source was to come up, not {other:?}"),
    }
}

fn next_down(told: &Receiver<Told>) -> String {
    match next(told) {
        Happening::Down { why } => why,
        other => panic!("the source was to go down, not {other:?}"),
    }
}

fn next_trouble(told: &Receiver<Told>) -> String {
    match next(told) {
        Happening::Trouble { why } => why,
        other => panic!("trouble was due, not {other:?}"),
    }
}

/// Writes everything, however slow the reader is.
fn write_all(pair: &mut PtyPair, bytes: &[u8]) {
    let mut rest = bytes;
    while let Written::Partly(count) = pair.write(rest).unwrap() {
        rest = &rest[count..];
    }
}

/// A position sentence with its checksum (NMEA 0183: the exclusive-or of the bytes between `$` and `*`).
fn sentence(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}")
}

fn usb(serial: &str) -> UsbDevice {
    UsbDevice {
        vendor: 0x1209,
        product: 1,
        serial: Some(serial.to_owned()),
        interface: None,
        maker_text: None,
        product_text: Some("invented board".to_owned()),
    }
}

fn port(path: String, device: Option<UsbDevice>) -> FoundPort {
    FoundPort { path, usb: device }
}

#[test]
fn a_file_is_read_to_its_end_and_its_last_line_needs_no_line_end() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("walk.nmea");
    std::fs::write(&path, b"lost n=1\r\n\nno\xfftext\nlost n=2").unwrap();
    let (handle, told) = start(&format!("file:{}", path.display()), Role::Gps);
    assert_eq!(next_up(&told), format!("file:{}", path.display()));
    let lines: Vec<Vec<u8>> = (0..4).map(|_| next_line(&told).bytes).collect();
    assert_eq!(lines, [b"lost n=1".as_slice(), b"", b"no\xfftext", b"lost n=2"]);
    assert_eq!(told.recv_timeout(LIMIT).unwrap(), (Role::Gps, Happening::Ended));
    assert!(told.recv_timeout(LIMIT).is_err(), "something came after the end");
    drop(handle);
}

#[test]
fn a_file_that_cannot_be_read_is_said_and_ends() {
    let folder = tempfile::tempdir().unwrap();
    for (path, said) in [
        (folder.path().join("none.nmea"), "is not there"),
        (folder.path().to_owned(), "is a folder"),
    ] {
        let (_handle, told) = start(&format!("file:{}", path.display()), Role::Node);
        let trouble = loop {
            match next(&told) {
                Happening::Up { .. } => {}
                Happening::Trouble { why } => break why,
                other => panic!("{other:?}"),
            }
        };
        assert!(trouble.contains(said), "{trouble}");
        assert!(trouble.contains(path.to_str().unwrap()), "{trouble}");
        assert_eq!(next(&told), Happening::Ended);
    }
}

#[test]
fn a_full_channel_holds_a_file_back_and_nothing_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("long.txt");
    let lines: Vec<String> = (0..100_000).map(|n| format!("lost n={n}\n")).collect();
    std::fs::write(&path, lines.concat()).unwrap();
    let (_handle, told) = start_with(&format!("file:{}", path.display()), Role::Node, &kit(), bounded(1));
    next_up(&told);
    for n in 0..100_000 {
        assert_eq!(next_text(&told), format!("lost n={n}"));
    }
    assert_eq!(next(&told), Happening::Ended);
}

#[test]
fn a_reader_held_back_still_stops() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("long.txt");
    std::fs::write(&path, "lost n=1\n".repeat(100_000)).unwrap();
    let (handle, told) = start_with(&format!("file:{}", path.display()), Role::Node, &kit(), bounded(1));
    next_up(&told);
    handle.stop();
    assert!(told.iter().count() < 100, "it went on after it was stopped");
}

#[test]
fn a_pipe_nobody_writes_to_does_not_keep_a_reader_from_stopping() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pipe");
    let made = std::process::Command::new("mkfifo").arg(&path).status().unwrap();
    assert!(made.success());
    let (handle, told) = start(&format!("file:{}", path.display()), Role::Surveyor);
    handle.stop();
    assert_eq!(told.iter().count(), 0);
}

#[test]
fn a_pipe_is_read_as_it_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pipe");
    let made = std::process::Command::new("mkfifo").arg(&path).status().unwrap();
    assert!(made.success());
    let (_handle, told) = start(&format!("file:{}", path.display()), Role::Surveyor);
    let mut pipe = std::fs::OpenOptions::new().write(true).open(&path).unwrap();
    next_up(&told);
    for n in 1..4 {
        pipe.write_all(format!("point name=P{n}\n").as_bytes()).unwrap();
        assert_eq!(told.recv_timeout(LIMIT).unwrap().0, Role::Surveyor);
    }
    drop(pipe);
    assert_eq!(next(&told), Happening::Ended);
}

#[test]
fn a_reader_ends_when_nobody_listens() {
    let mut pair = PtyPair::new().unwrap();
    let (handle, told) = start(&format!("serial:{}", pair.path()), Role::Node);
    next_up(&told);
    drop(told);
    while !handle.is_over() {
        write_all(&mut pair, b"lost n=1\n");
    }
}

#[test]
fn serial_lines_come_whole_whatever_pieces_they_are_written_in() {
    // By a link, so that the reader does not look for it under a name the system has given to another.
    let folder = tempfile::tempdir().unwrap();
    let mut pair = PtyPair::with_link(folder.path().join("node0")).unwrap();
    let (_handle, told) = start(&format!("serial:{}", pair.path()), Role::Node);
    assert_eq!(next_up(&told), format!("serial:{}", pair.path()));
    let mut expected = Vec::new();
    let mut stream = Vec::new();
    for n in 0..2_000 {
        let line = format!("echo n={n} here=-71 there=-74 rtt_us=3120");
        stream.extend_from_slice(line.as_bytes());
        stream.extend_from_slice(if n % 2 == 0 { b"\n" } else { b"\r\n" });
        expected.push(line);
    }
    #[expect(
        clippy::disallowed_methods,
        reason = "the writer stands for gear, which does not wait for its reader"
    )]
    let writer = std::thread::spawn(move || {
        // Pieces of 1 to 97 bytes, so that they end anywhere in a line, between CR and LF too.
        let mut length = 1;
        let mut rest = stream.as_slice();
        while !rest.is_empty() {
            let (piece, after) = rest.split_at(length.min(rest.len()));
            write_all(&mut pair, piece);
            rest = after;
            length = length * 5 % 97 + 1;
        }
        pair
    });
    let mut last = Stamp::default();
    for line in expected {
        let got = next_line(&told);
        assert_eq!(String::from_utf8(got.bytes).unwrap(), line);
        assert_eq!(got.left_out, 0);
        assert!(got.stamp >= last, "stamps step back");
        last = got.stamp;
    }
    drop(writer.join().unwrap());
    assert_eq!(next_down(&told), "unplugged");
}

#[test]
fn rubbish_and_endless_lines_pass_through_bounded() {
    let mut pair = PtyPair::new().unwrap();
    let (_handle, told) = start(&format!("serial:{}", pair.path()), Role::Node);
    next_up(&told);
    let every_byte: Vec<u8> = (0..=255).filter(|byte| *byte != b'\n').collect();
    write_all(&mut pair, &every_byte);
    write_all(&mut pair, b"\n");
    assert_eq!(next_line(&told).bytes, every_byte);
    for _ in 0..100 {
        write_all(&mut pair, &[b'z'; 1000]);
    }
    write_all(&mut pair, b"\nlost n=5\n");
    let long = next_line(&told);
    assert_eq!((long.bytes.len(), long.left_out), (512, 99_488));
    assert_eq!(next_text(&told), "lost n=5");
}

#[test]
fn what_waits_in_the_port_before_it_is_opened_is_read() {
    let mut pair = PtyPair::new().unwrap();
    write_all(&mut pair, b"hello board=fern boot=7\nlost n=1\n");
    let (_handle, told) = start(&format!("serial:{}", pair.path()), Role::Node);
    next_up(&told);
    assert_eq!(next_text(&told), "hello board=fern boot=7");
    assert_eq!(next_text(&told), "lost n=1");
}

#[test]
fn an_unplugged_port_is_found_again_and_the_torn_line_is_not_used() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("node0");
    let address = format!("serial:{}", link.display());
    let mut first = PtyPair::with_link(&link).unwrap();
    let (_handle, told) = start(&address, Role::Node);
    assert_eq!(next_up(&told), address);
    write_all(&mut first, b"lost n=1\nlost n=");
    assert_eq!(next_text(&told), "lost n=1");
    first.unplug();
    assert_eq!(next_down(&told), "unplugged");
    for n in 3..6 {
        let mut again = PtyPair::with_link(&link).unwrap();
        assert_eq!(next_up(&told), address);
        write_all(&mut again, format!("lost n={n}\nlo").as_bytes());
        assert_eq!(next_text(&told), format!("lost n={n}"));
        again.unplug();
        assert_eq!(next_down(&told), "unplugged");
    }
}

#[test]
fn a_missing_port_is_said_once_with_what_to_do_and_taken_when_it_comes() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("node0");
    let ports = Arc::new(Mutex::new(vec![port("/dev/ttyUSB7".to_owned(), None)]));
    let address = format!("serial:{}", link.display());
    let (_handle, told) = start_with(&address, Role::Node, &kit_with_ports(&ports), unbounded());
    let trouble = next_trouble(&told);
    assert!(
        trouble.contains(&format!("{} is not there", link.display())),
        "{trouble}"
    );
    assert!(trouble.contains("/dev/ttyUSB7"), "{trouble}");
    let mut pair = PtyPair::with_link(&link).unwrap();
    assert_eq!(next_up(&told), address);
    write_all(&mut pair, b"lost n=1\n");
    assert_eq!(next_text(&told), "lost n=1");
}

#[test]
fn a_port_in_use_says_who_may_hold_it() {
    let pair = PtyPair::new().unwrap();
    let address = format!("serial:{}", pair.path());
    let (holder, told) = start(&address, Role::Node);
    next_up(&told);
    let (_second, told_second) = start(&address, Role::Node);
    let trouble = next_trouble(&told_second);
    assert!(trouble.contains("another program"), "{trouble}");
    assert!(trouble.contains(&format!("fuser -v {}", pair.path())), "{trouble}");
    holder.stop();
    assert_eq!(next_up(&told_second), address);
}

#[test]
fn a_device_that_comes_back_under_another_path_is_followed() {
    let first = PtyPair::new().unwrap();
    let ports = Arc::new(Mutex::new(vec![port(first.path(), Some(usb("A7")))]));
    let address = format!("serial:{}", first.path());
    let (_handle, told) = start_with(&address, Role::Node, &kit_with_ports(&ports), unbounded());
    next_up(&told);
    // Made before the first goes, so that it cannot get the same name.
    let other = PtyPair::new().unwrap();
    let mut second = PtyPair::new().unwrap();
    // Listed before the first goes, whose name the system may give to another at once.
    *ports.lock().unwrap() = vec![
        port(other.path(), Some(usb("B2"))),
        port(second.path(), Some(usb("A7"))),
    ];
    first.unplug();
    assert_eq!(next_down(&told), "unplugged");
    assert_eq!(next_up(&told), format!("serial:{}", second.path()));
    write_all(&mut second, b"lost n=1\n");
    assert_eq!(next_text(&told), "lost n=1");
}

#[test]
fn the_speed_of_a_receiver_is_found_and_no_line_lost() {
    let mut pair = PtyPair::new().unwrap();
    let lines: Vec<String> = (0..5).map(|n| sentence(&format!("GPXTE,A,A,{n}.0,L,N"))).collect();
    write_all(&mut pair, b"3,N\r\n");
    for line in &lines {
        write_all(&mut pair, format!("{line}\r\n").as_bytes());
    }
    let (_handle, told) = start(&format!("serial:{}", pair.path()), Role::Gps);
    assert_eq!(next_up(&told), format!("serial:{}@9600", pair.path()));
    assert_eq!(next_text(&told), "3,N");
    for line in &lines {
        assert_eq!(next_text(&told), *line);
    }
}

#[test]
fn a_silent_receiver_is_said_once_and_taken_when_it_speaks() {
    let mut pair = PtyPair::new().unwrap();
    let (_handle, told) = start(&format!("serial:{}", pair.path()), Role::Gps);
    let trouble = next_trouble(&told);
    assert!(
        trouble.contains("silent") && trouble.contains(&pair.path()),
        "{trouble}"
    );
    let line = sentence("GPXTE,A,A,0.67,L,N");
    write_all(&mut pair, format!("{line}\r\n").as_bytes());
    let address = next_up(&told);
    assert!(address.starts_with(&format!("serial:{}@", pair.path())), "{address}");
    assert_eq!(next_text(&told), line);
}

#[test]
fn a_dropped_stream_is_connected_anew() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("tcp:{}", listener.local_addr().unwrap());
    let (_handle, told) = start(&address, Role::Gps);
    for n in 0..3 {
        let (mut stream, _) = listener.accept().unwrap();
        assert_eq!(next_up(&told), address);
        stream.write_all(format!("$first,{n}\r\n$tor").as_bytes()).unwrap();
        assert_eq!(next_text(&told), format!("$first,{n}"));
        drop(stream);
        assert_eq!(next_down(&told), "closed by the other end");
    }
}

#[test]
fn a_stream_nobody_serves_is_said_once_and_joined_later() {
    let free = TcpListener::bind("127.0.0.1:0").unwrap();
    let host_port = free.local_addr().unwrap().to_string();
    drop(free);
    let (_handle, told) = start(&format!("tcp:{host_port}"), Role::Gps);
    let trouble = next_trouble(&told);
    assert!(
        trouble.contains(&format!("nothing listens at {host_port}")),
        "{trouble}"
    );
    let listener = TcpListener::bind(&host_port).unwrap();
    let (_stream, _) = listener.accept().unwrap();
    next_up(&told);
}

#[test]
fn datagrams_hold_whole_lines() {
    let free = UdpSocket::bind("127.0.0.1:0").unwrap();
    let host_port = free.local_addr().unwrap().to_string();
    drop(free);
    let (_handle, told) = start(&format!("udp:{host_port}"), Role::Gps);
    assert_eq!(next_up(&told), format!("udp:{host_port}"));
    let sender = UdpSocket::bind("127.0.0.1:0").unwrap();
    sender.send_to(b"$a,1\r\n$b,2", &host_port).unwrap();
    sender.send_to(b"", &host_port).unwrap();
    sender.send_to(&[b'z'; 3000], &host_port).unwrap();
    sender.send_to(b"$c,3\n", &host_port).unwrap();
    assert_eq!(next_text(&told), "$a,1");
    assert_eq!(next_text(&told), "$b,2");
    let long = next_line(&told);
    assert_eq!((long.bytes.len(), long.left_out), (512, 2488));
    assert_eq!(next_text(&told), "$c,3");
    let (_second, told_second) = start(&format!("udp:{host_port}"), Role::Gps);
    assert!(next_trouble(&told_second).contains("another program listens"));
}

/// Reads one line a client sent.
fn asked(from: &mut BufReader<TcpStream>) -> String {
    let mut line = String::new();
    from.read_line(&mut line).unwrap();
    line
}

#[test]
fn gpsd_is_asked_and_asked_again_when_silent() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("gpsd:{}", listener.local_addr().unwrap());
    let (handle, told) = start(&address, Role::Gps);
    let (mut stream, _) = listener.accept().unwrap();
    let mut client = BufReader::new(stream.try_clone().unwrap());
    assert_eq!(next_up(&told), address);
    let watch = "?WATCH={\"enable\":true,\"json\":true};\n";
    assert_eq!(asked(&mut client), watch);
    let sky = format!("{{\"class\":\"SKY\",\"fill\":\"{}\"}}", "s".repeat(16_000));
    stream
        .write_all(format!("{sky}\r\n{}\n", "x".repeat(17_000)).as_bytes())
        .unwrap();
    assert_eq!(next_text(&told), sky);
    let long = next_line(&told);
    assert_eq!((long.bytes.len(), long.left_out), (16_384, 616));
    assert_eq!(asked(&mut client), watch, "silent, and not asked again");
    handle.stop();
    assert_eq!(
        client.read(&mut [0; 1]).unwrap(),
        0,
        "still connected after it was stopped"
    );
}

#[test]
fn auto_tells_node_and_gps_apart_and_finds_them_again() {
    let mut node = PtyPair::new().unwrap();
    let mut gps = PtyPair::new().unwrap();
    let mut other = PtyPair::new().unwrap();
    let ports = Arc::new(Mutex::new(vec![
        port(other.path(), None),
        port(gps.path(), None),
        port(node.path(), None),
        port("/dev/no-such-port-here".to_owned(), None),
    ]));
    let (send, told) = unbounded::<Told>();
    let position = sentence("GPXTE,A,A,0.67,L,N");
    write_all(&mut node, b"boot noise\nhello board=fern boot=7\n");
    write_all(&mut gps, format!("{position}\r\n").as_bytes());
    write_all(&mut other, b"what is this\n");
    let handle = open_auto(&[Role::Node, Role::Gps], &[], &kit_with_ports(&ports), send);

    let mut heard: [Vec<String>; 2] = [Vec::new(), Vec::new()];
    while heard[0].len() < 3 || heard[1].len() < 2 {
        let (role, what) = told.recv_timeout(LIMIT).unwrap();
        let text = match what {
            Happening::Up { address } => address,
            Happening::Line(line) => String::from_utf8(line.bytes).unwrap(),
            other => panic!("{other:?}"),
        };
        heard[usize::from(role == Role::Gps)].push(text);
    }
    assert_eq!(
        heard[0],
        [
            format!("serial:{}", node.path()),
            "boot noise".to_owned(),
            "hello board=fern boot=7".to_owned()
        ]
    );
    assert_eq!(heard[1], [format!("serial:{}", gps.path()), position]);

    let mut again = PtyPair::new().unwrap();
    let gone = node.path();
    write_all(&mut again, b"lost n=9\n");
    ports.lock().unwrap().retain(|port| port.path != gone);
    ports.lock().unwrap().push(port(again.path(), None));
    node.unplug();
    assert_eq!(
        told.recv_timeout(LIMIT).unwrap(),
        (
            Role::Node,
            Happening::Down {
                why: "unplugged".to_owned()
            }
        )
    );
    let up = loop {
        // That no port speaks like a node meanwhile may be said or not, as it happens.
        match told.recv_timeout(LIMIT).unwrap() {
            (Role::Node, Happening::Up { address }) => break address,
            (Role::Node, Happening::Trouble { why }) => assert!(why.contains("node"), "{why}"),
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(up, format!("serial:{}", again.path()));
    assert_eq!(next_text(&told), "lost n=9");
    handle.stop();
}

#[test]
fn auto_takes_one_port_that_speaks_both_for_both() {
    let mut both = PtyPair::new().unwrap();
    let ports = Arc::new(Mutex::new(vec![port(both.path(), None)]));
    let position = sentence("GPXTE,A,A,0.67,L,N");
    write_all(&mut both, format!("lost n=1\n{position}\n").as_bytes());
    let (send, told) = unbounded::<Told>();
    let _handle = open_auto(&[Role::Node, Role::Gps], &[], &kit_with_ports(&ports), send);
    assert_eq!(next_up(&told), format!("serial:{}", both.path()));
    assert_eq!(next_text(&told), "lost n=1");
    assert_eq!(next_text(&told), position);
    ports.lock().unwrap().clear();
    both.unplug();
    assert_eq!(next_down(&told), "unplugged");
}

#[test]
fn auto_says_what_it_found_where_it_found_nothing() {
    let silent = PtyPair::new().unwrap();
    let held = PtyPair::new().unwrap();
    let (_holder, told_holder) = start(&format!("serial:{}", held.path()), Role::Node);
    let ports = Arc::new(Mutex::new(vec![port(silent.path(), None), port(held.path(), None)]));
    next_up(&told_holder);
    let (_handle, told) = start_with("auto", Role::Node, &kit_with_ports(&ports), unbounded());
    let trouble = next_trouble(&told);
    assert!(trouble.contains("no port speaks like a node yet"), "{trouble}");
    assert!(trouble.contains(&format!("{} is silent", silent.path())), "{trouble}");
    assert!(trouble.contains(&format!("{} is in use", held.path())), "{trouble}");
}

#[test]
fn a_probe_says_what_each_port_says() {
    let mut node = PtyPair::new().unwrap();
    let mut rubbish = PtyPair::new().unwrap();
    let silent = PtyPair::new().unwrap();
    let held = PtyPair::new().unwrap();
    let (_holder, told) = start(&format!("serial:{}", held.path()), Role::Node);
    next_up(&told);
    write_all(&mut node, b"hello board=fern boot=7\nlost n=1\n");
    write_all(&mut rubbish, &[0x80, 0xff, 0x00, 0x13, 0x9c]);
    let ports = Arc::new(Mutex::new(vec![
        port(node.path(), Some(usb("A7"))),
        port(rubbish.path(), None),
        port(silent.path(), None),
        port(held.path(), None),
        port("/dev/no-such-port-here".to_owned(), None),
    ]));
    let reports = probe(&kit_with_ports(&ports));
    assert_eq!(reports.len(), 5);
    assert_eq!(reports[0].usb, Some(usb("A7")));
    match &reports[0].state {
        PortState::Talks {
            baud: 115_200,
            node: Some(spoken),
            gps: None,
        } => {
            assert_eq!(spoken.lines, 2);
            assert_eq!(spoken.about.as_deref(), Some("fern boot=7"));
        }
        other => panic!("{other:?}"),
    }
    assert!(
        matches!(
            reports[1].state,
            PortState::Unclear {
                bytes: 5,
                example: None
            }
        ),
        "{:?}",
        reports[1]
    );
    assert_eq!(reports[2].state, PortState::Silent);
    assert!(matches!(&reports[3].state, PortState::Busy { why } if why.contains("another program")));
    assert!(matches!(&reports[4].state, PortState::Failed { why } if why.contains("is not there")));
}
