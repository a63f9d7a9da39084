//! Requests to the page, over the network of this machine alone: the bytes as they are, or a request whose `Host` and length
//! are right. `@ID@` in them stands for a photograph that is there.
//!
//! No request brings the page down, none is answered with 500, and once the sender has done its part the connection ends.
#![no_main]

use libfuzzer_sys::fuzz_target;
use seamstep::digits::Unit;
use seamstep::page::{self, PageOptions, Reach};
use seamstep::settings::Settings;
use std::io::{Cursor, ErrorKind, Read, Write};
use std::net::{Shutdown, TcpStream};
use std::sync::Mutex;
use std::time::Duration;

/// How long the end of an answer is waited for before the sender says that it has done: of bytes as they are, and of a whole
/// request, which may be measured.
const FIRST: [Duration; 2] = [Duration::from_millis(100), Duration::from_secs(3)];
/// Longest that the connection may stand after that.
const PATIENCE: Duration = Duration::from_secs(20);
/// What stands for a photograph that is there.
const ID: &[u8] = b"@ID@";

/// The page, and the photograph that is there.
struct Open {
    host: String,
    id: Vec<u8>,
}

static OPEN: Mutex<Option<Open>> = Mutex::new(None);

fuzz_target!(|bytes: &[u8]| {
    let mut open = OPEN.lock().expect("no other thread asks");
    let open = open.get_or_insert_with(Open::new);
    let Some((how, rest)) = bytes.split_first() else { return };
    let rest = replaced(rest, &open.id);
    let answer = match how {
        b'r' => open.send(&rest, FIRST[0]),
        _ => open.send(&open.whole(&rest), FIRST[1]),
    };
    assert!(!answer.starts_with(b"HTTP/1.1 500"), "{}", String::from_utf8_lossy(&answer));
    if let Some(id) = id_in(&answer) {
        open.ask("DELETE", &id, &[]);
    }
    if rest.starts_with(b"DELETE") || rest.windows(7).any(|part| part == b"/remove") {
        open.fill();
    }
});

impl Open {
    fn new() -> Self {
        let options = PageOptions {
            port: 0,
            reach: Reach::ThisMachine,
            folder: None,
            settings: Settings::default(),
            unit: Unit::Millimetre,
        };
        let page = page::open(options).expect("a page");
        let url = page.url();
        std::thread::spawn(move || page.serve());
        let host = url.trim_start_matches("http://").trim_end_matches('/').to_owned();
        let mut open = Self { host, id: Vec::new() };
        open.fill();
        open
    }

    /// Sends a small photograph where none is there any more.
    fn fill(&mut self) {
        if !self.id.is_empty() && self.ask("GET", &self.id, &[]).starts_with(b"HTTP/1.1 200") {
            return;
        }
        let stripes = image::RgbImage::from_fn(96, 120, |x, y| {
            let jump = if x > 48 { 3 } else { 0 };
            image::Rgb(if (y + jump) / 6 % 2 == 0 { [200, 190, 160] } else { [60, 70, 90] })
        });
        let mut png = Cursor::new(Vec::new());
        stripes.write_to(&mut png, image::ImageFormat::Png).expect("a picture");
        let answer = self.ask("POST", b"", &png.into_inner());
        self.id = id_in(&answer).unwrap_or_else(|| panic!("{}", String::from_utf8_lossy(&answer)));
    }

    fn ask(&self, method: &str, id: &[u8], body: &[u8]) -> Vec<u8> {
        let slash = if id.is_empty() { "" } else { "/" };
        let head = format!("{method} /photographs{slash}{} HTTP/1.1\n\n", String::from_utf8_lossy(id));
        self.send(&self.whole(&[head.as_bytes(), body].concat()), FIRST[1])
    }

    /// A request of which the lines up to an empty one are the head; the address and the length of the body are added.
    fn whole(&self, said: &[u8]) -> Vec<u8> {
        let end = said.windows(2).position(|two| two == b"\n\n").unwrap_or(said.len());
        let (head, body) = (&said[..end], said.get(end + 2..).unwrap_or_default());
        let mut bytes = head.split(|&b| b == b'\n').collect::<Vec<_>>().join(&b"\r\n"[..]);
        let more = format!("\r\nHost: {}\r\nContent-Length: {}\r\nConnection: close\r\n\r\n", self.host, body.len());
        bytes.extend_from_slice(more.as_bytes());
        bytes.extend_from_slice(body);
        bytes
    }

    /// Sends bytes and reads whatever comes until the connection ends.
    fn send(&self, bytes: &[u8], first: Duration) -> Vec<u8> {
        let mut stream = TcpStream::connect(&self.host).expect("the page is open");
        // A page that has heard enough may close before all is sent.
        let _ = stream.write_all(bytes);
        let mut answer = Vec::new();
        stream.set_read_timeout(Some(first)).expect("a time");
        if waits(stream.read_to_end(&mut answer)) {
            let _ = stream.shutdown(Shutdown::Write);
        }
        stream.set_read_timeout(Some(PATIENCE)).expect("a time");
        assert!(!waits(stream.read_to_end(&mut answer)), "the page neither answers nor ends the connection");
        answer
    }
}

fn waits(read: std::io::Result<usize>) -> bool {
    read.is_err_and(|e| matches!(e.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut))
}

fn replaced(bytes: &[u8], id: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(bytes.len());
    let mut rest = bytes;
    while let Some(at) = rest.windows(ID.len()).position(|part| part == ID) {
        out.extend_from_slice(&rest[..at]);
        out.extend_from_slice(id);
        rest = &rest[at + ID.len()..];
    }
    out.extend_from_slice(rest);
    out
}

/// The photograph that an answer says was kept.
fn id_in(answer: &[u8]) -> Option<Vec<u8>> {
    let text = String::from_utf8_lossy(answer);
    let line = text.lines().find_map(|line| line.strip_prefix("location: /photographs/"))?;
    Some(line.trim().as_bytes().to_vec())
}
