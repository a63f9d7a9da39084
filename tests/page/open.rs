//! A page that is open while a test runs, and requests to it written byte by byte.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Longest a single answer may take.
const PATIENCE: Duration = Duration::from_secs(120);

/// An open page; closed when it is dropped.
pub struct Open {
    child: Child,
    /// `127.0.0.1:PORT`.
    pub host: String,
    /// The key, where there is one.
    pub key: Option<String>,
}

/// An answer.
pub struct Answer {
    pub status: u16,
    pub headers: Vec<(String, String)>,
    pub body: Vec<u8>,
}

impl Open {
    /// Opens a page with these options, at a port that is free.
    pub fn with(options: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_seamstep"))
            .args(["page", "--port", "0"])
            .args(options)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let said = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
        let url = said.filter_map(|line| line.trim().strip_prefix("http://").map(str::to_owned)).next().unwrap();
        let (host, rest) = url.split_once('/').unwrap();
        Self { child, host: host.to_owned(), key: rest.strip_prefix("?key=").map(str::to_owned) }
    }

    /// Sends a request and reads the answer to its end; `Host` and `Connection` are added where `headers` do not name them.
    pub fn ask(&self, method: &str, target: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
        let mut head = format!("{method} {target} HTTP/1.1\r\nConnection: close\r\n");
        if !headers.iter().any(|(name, _)| name.eq_ignore_ascii_case("host")) {
            head += &format!("Host: {}\r\n", self.host);
        }
        if !body.is_empty() {
            head += &format!("Content-Length: {}\r\n", body.len());
        }
        for (name, value) in headers {
            head += &format!("{name}: {value}\r\n");
        }
        let mut stream = TcpStream::connect(&self.host).unwrap();
        stream.set_read_timeout(Some(PATIENCE)).unwrap();
        stream.write_all(format!("{head}\r\n").as_bytes()).unwrap();
        // A server that has heard enough may close before all is sent; its answer is there all the same.
        let _ = stream.write_all(body);
        Answer::read(stream)
    }

    pub fn get(&self, target: &str) -> Answer {
        self.ask("GET", target, &[], &[])
    }

    /// Sends a photograph as the body; its id.
    pub fn send(&self, name: &str, bytes: &[u8]) -> String {
        let answer = self.ask("POST", &format!("/photographs?name={name}"), &[("Content-Type", "image/jpeg")], bytes);
        assert_eq!(answer.status, 201, "{}", answer.text());
        let id = answer.json()["id"].as_str().unwrap().to_owned();
        assert_eq!(answer.header("location"), Some(format!("/photographs/{id}").as_str()));
        id
    }

    /// Posts a form's fields.
    pub fn post(&self, target: &str, accept: &str, fields: &str) -> Answer {
        let kind = ("Content-Type", "application/x-www-form-urlencoded");
        self.ask("POST", target, &[kind, ("Accept", accept)], fields.as_bytes())
    }

    /// The most memory that the page has used so far, MB; `None` where the system does not tell.
    pub fn peak_mb(&self) -> Option<u64> {
        let told = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).ok()?;
        let line = told.lines().find(|line| line.starts_with("VmHWM:"))?;
        Some(line.split_whitespace().nth(1)?.parse::<u64>().ok()? >> 10)
    }

    /// Asks the page to end, as Ctrl-C does, and waits for it; its exit status and what it said on standard error.
    #[cfg(unix)]
    pub fn interrupted(mut self) -> (Option<i32>, String) {
        let told = Command::new("kill").args(["-INT", &self.child.id().to_string()]).status().unwrap();
        assert!(told.success());
        let status = self.child.wait().unwrap().code();
        let mut said = String::new();
        self.child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        (status, said)
    }
}

impl Drop for Open {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Answer {
    fn read(mut stream: TcpStream) -> Self {
        let mut bytes = Vec::new();
        let read = stream.read_to_end(&mut bytes);
        let end = bytes.windows(4).position(|four| four == b"\r\n\r\n");
        let end = end.unwrap_or_else(|| panic!("no answer came ({read:?}): {:?}", String::from_utf8_lossy(&bytes)));
        let head = String::from_utf8(bytes[..end].to_vec()).unwrap();
        let mut lines = head.lines();
        let status = lines.next().unwrap().split(' ').nth(1).unwrap().parse().unwrap();
        let headers: Vec<(String, String)> =
            lines.filter_map(|line| line.split_once(": ")).map(|(n, v)| (n.to_lowercase(), v.to_owned())).collect();
        let mut body = bytes[end + 4..].to_vec();
        if headers.iter().any(|(name, value)| name == "transfer-encoding" && value == "chunked") {
            body = unchunked(&body);
        }
        Self { status, headers, body }
    }

    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(n, _)| n == name).map(|(_, value)| value.as_str())
    }

    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    pub fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|e| panic!("{e}: {}", self.text()))
    }

    /// Asserts problem details (RFC 9457) of this status that say what to do.
    #[track_caller]
    pub fn is_trouble(&self, status: u16) {
        assert_eq!(self.status, status, "{}", self.text());
        assert_eq!(self.header("content-type"), Some("application/problem+json"));
        let told = self.json();
        assert_eq!(told["status"], status);
        for word in ["type", "title", "detail", "help"] {
            assert!(told[word].as_str().is_some_and(|text| text.len() > 8 || word == "title"), "{word}: {told}");
        }
    }
}

/// The body of chunks (RFC 9112, 7.1).
fn unchunked(mut rest: &[u8]) -> Vec<u8> {
    let mut body = Vec::new();
    loop {
        let line = rest.windows(2).position(|two| two == b"\r\n").expect("a chunk's size");
        let size = usize::from_str_radix(std::str::from_utf8(&rest[..line]).unwrap().trim(), 16).unwrap();
        rest = &rest[line + 2..];
        if size == 0 {
            return body;
        }
        body.extend_from_slice(&rest[..size]);
        rest = &rest[size + 2..];
    }
}

/// A form of one photograph and some fields (RFC 7578): content type and body.
pub fn form(photograph: (&str, &[u8]), fields: &[(&str, &str)]) -> (String, Vec<u8>) {
    let edge = "----edge-of-a-field";
    let mut body = Vec::new();
    for (name, value) in fields {
        let field = format!("--{edge}\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n");
        body.extend_from_slice(field.as_bytes());
    }
    // A form with a field for the camera and one for files sends both; the one that was not used is empty.
    for (name, bytes) in [("", &[][..]), photograph] {
        let head = format!(
            "--{edge}\r\nContent-Disposition: form-data; name=\"photograph\"; filename=\"{name}\"\r\n\
             Content-Type: application/octet-stream\r\n\r\n"
        );
        body.extend_from_slice(head.as_bytes());
        body.extend_from_slice(bytes);
        body.extend_from_slice(b"\r\n");
    }
    body.extend_from_slice(format!("--{edge}--\r\n").as_bytes());
    (format!("multipart/form-data; boundary={edge}"), body)
}
