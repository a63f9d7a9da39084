//! What the page does with one who does not mean well, or whose network does not.

use super::open::{Answer, Open, form};
use std::io::{Read, Write};
use std::net::TcpStream;

const JPEG: [(&str, &str); 1] = [("Content-Type", "image/jpeg")];
/// The most memory the page may use, MB.
const MOST_MB: u64 = 600;

fn fixture(name: &str) -> Vec<u8> {
    std::fs::read(format!("fixtures/{name}")).unwrap()
}

/// The page still does its work.
fn goes_on(page: &Open) {
    let id = page.send("turn-00.jpg", &fixture("turn-00.jpg"));
    assert_eq!(page.ask("DELETE", &format!("/photographs/{id}"), &[], &[]).status, 204);
    if let Some(mb) = page.peak_mb() {
        assert!(mb < MOST_MB, "{mb} MB");
    }
}

/// A PNG whose header tells of more pixels than anybody can hold, and whose data are a few bytes.
fn bomb() -> Vec<u8> {
    let crc = |bytes: &[u8]| {
        !bytes.iter().fold(!0u32, |crc, byte| {
            (0..8).fold(crc ^ u32::from(*byte), |c, _| if c & 1 == 1 { (c >> 1) ^ 0xedb8_8320 } else { c >> 1 })
        })
    };
    let mut png = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut chunk = |kind: &[u8; 4], data: &[u8]| {
        let mut named = kind.to_vec();
        named.extend_from_slice(data);
        png.extend_from_slice(&(data.len() as u32).to_be_bytes());
        png.extend_from_slice(&named);
        png.extend_from_slice(&crc(&named).to_be_bytes());
    };
    let mut header = Vec::new();
    header.extend_from_slice(&60_000u32.to_be_bytes());
    header.extend_from_slice(&60_000u32.to_be_bytes());
    header.extend_from_slice(&[8, 2, 0, 0, 0]);
    chunk(b"IHDR", &header);
    chunk(b"IDAT", &[0x78, 0x9c, 0x03, 0x00, 0x00, 0x00, 0x00, 0x01]);
    chunk(b"IEND", &[]);
    png
}

#[test]
fn what_is_no_photograph_gets_the_status_that_says_so() {
    let page = Open::with(&[]);
    let jpeg = fixture("turn-00.jpg");
    let send = |bytes: &[u8]| page.ask("POST", "/photographs", &JPEG, bytes);
    let text = send(b"Dear diary, today I sewed nothing at all.");
    text.is_trouble(415);
    assert_eq!(text.json()["code"], "not-a-picture");
    send(&bomb()).is_trouble(413);
    send(&jpeg[..jpeg.len() / 2]).is_trouble(422);
    page.ask("POST", "/photographs", &[("Content-Length", "0")], &[]).is_trouble(415);
    let (kind, body) = form(("", &[]), &[]);
    page.ask("POST", "/photographs", &[("Content-Type", &kind)], &body).is_trouble(400);
    page.ask("POST", "/photographs", &[("Content-Type", "multipart/form-data")], b"x").is_trouble(400);
    let (kind, body) = form(("a.jpg", &jpeg), &[("place", "elbow")]);
    page.ask("POST", "/photographs", &[("Content-Type", &kind)], &body).is_trouble(400);
    // To a browser the same is said on a sheet.
    let sheet = page.ask("POST", "/photographs", &[("Accept", "text/html")], b"no picture");
    assert!(sheet.status == 415 && sheet.text().contains("<h1>") && sheet.text().contains("JPEG"), "{}", sheet.text());
    assert!(!page.get("/").text().contains("/photographs/"), "something was kept");
    goes_on(&page);
}

#[test]
fn fifty_megabytes_are_too_many_however_they_come() {
    let page = Open::with(&[]);
    let large = vec![0xff; 50 << 20];
    page.ask("POST", "/photographs", &JPEG, &large).is_trouble(413);
    let (kind, body) = form(("large.jpg", &large), &[]);
    page.ask("POST", "/photographs", &[("Content-Type", &kind)], &body).is_trouble(413);
    // Without a length that is announced.
    let mut stream = TcpStream::connect(&page.host).unwrap();
    let head = format!("POST /photographs HTTP/1.1\r\nHost: {}\r\nTransfer-Encoding: chunked\r\n\r\n", page.host);
    stream.write_all(head.as_bytes()).unwrap();
    for part in large.chunks(1 << 20) {
        if stream.write_all(format!("{:x}\r\n", part.len()).as_bytes()).is_err() || stream.write_all(part).is_err() {
            break;
        }
        if stream.write_all(b"\r\n").is_err() {
            break;
        }
    }
    let mut said = vec![0; 12];
    if stream.read_exact(&mut said).is_ok() {
        assert_eq!(said, b"HTTP/1.1 413");
    }
    // A form's other fields and an asked question are short.
    let (kind, body) = form(("a.jpg", b"x"), &[("piece", &"x".repeat(9000))]);
    page.ask("POST", "/photographs", &[("Content-Type", &kind)], &body).is_trouble(413);
    let id = page.send("turn-00.jpg", &fixture("turn-00.jpg"));
    page.post(&format!("/photographs/{id}/finding"), "*/*", &format!("piece={}", "x".repeat(70_000))).is_trouble(413);
    goes_on(&page);
}

#[test]
fn of_two_hundred_at_once_every_one_is_kept_or_told_to_come_again() {
    let page = Open::with(&[]);
    let jpeg = fixture("turn-00.jpg");
    let answers: Vec<Answer> = std::thread::scope(|scope| {
        let all: Vec<_> = (0..200).map(|_| scope.spawn(|| page.ask("POST", "/photographs", &JPEG, &jpeg))).collect();
        all.into_iter().map(|one| one.join().unwrap()).collect()
    });
    let kept = answers.iter().filter(|answer| answer.status == 201).count();
    for answer in answers.iter().filter(|answer| answer.status != 201) {
        answer.is_trouble(503);
        assert!(answer.header("retry-after").unwrap().parse::<u32>().unwrap() > 0);
    }
    assert!(kept >= 20, "{kept} were kept");
    assert_eq!(page.get("/").text().matches("<li>").count(), kept);
    goes_on(&page);
}

#[test]
fn only_its_own_host_and_its_own_pages_are_answered() {
    let page = Open::with(&[]);
    let port = page.host.rsplit(':').next().unwrap().to_owned();
    for host in ["example.org", &format!("example.org:{port}"), "127.0.0.1:1", &format!("0.0.0.0:{port}")] {
        page.ask("GET", "/", &[("Host", host)], &[]).is_trouble(421);
    }
    assert_eq!(page.ask("GET", "/", &[("Host", &format!("localhost:{port}"))], &[]).status, 200);
    let jpeg = fixture("turn-00.jpg");
    let from = |name: &'static str, value: &str| page.ask("POST", "/photographs", &[(name, value)], &jpeg);
    from("Origin", "http://example.org").is_trouble(403);
    from("Origin", "null").is_trouble(403);
    from("Sec-Fetch-Site", "cross-site").is_trouble(403);
    assert_eq!(from("Origin", &format!("http://{}", page.host)).status, 201);
    for target in ["/", "/page.js", "/nowhere"] {
        let answer = page.get(target);
        assert!(answer.header("content-security-policy").unwrap().starts_with("default-src 'none'"), "{target}");
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"), "{target}");
    }
}

#[test]
fn on_the_network_nobody_comes_in_without_the_key() {
    let page = Open::with(&["--lan", "127.0.0.1"]);
    let key = page.key.clone().unwrap();
    assert!(key.len() >= 22);
    for target in ["/", "/?key=wrong", "/?key=", "/page.js", "/card.pdf", "/photographs/AAAAAAAAAAAA"] {
        page.get(target).is_trouble(403);
    }
    page.ask("POST", "/photographs", &JPEG, &fixture("turn-00.jpg")).is_trouble(403);
    page.ask("GET", "/", &[("Cookie", "seamstep-key=wrong")], &[]).is_trouble(403);
    let let_in = page.get(&format!("/?key={key}"));
    assert_eq!((let_in.status, let_in.header("location")), (303, Some("/")));
    let cookie = let_in.header("set-cookie").unwrap().to_owned();
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite"));
    let carried = cookie.split(';').next().unwrap();
    assert_eq!(page.ask("GET", "/", &[("Cookie", carried)], &[]).status, 200);
    assert_eq!(page.ask("GET", "/", &[("Authorization", &format!("Bearer {key}"))], &[]).status, 200);
    // The key is a new one each time.
    assert_ne!(Open::with(&["--lan", "127.0.0.1"]).key.as_ref(), Some(&key));
}

#[test]
fn no_path_of_a_request_reaches_the_disk() {
    let place = tempfile::tempdir().unwrap();
    std::fs::write(place.path().join("secret.json"), "{\"secret\": 1}").unwrap();
    let folder = place.path().join("kept");
    let page = Open::with(&["--keep", folder.to_str().unwrap()]);
    for target in [
        "/../secret.json",
        "/photographs/../../secret.json",
        "/photographs/..%2f..%2fsecret/finding",
        "/photographs/%2e%2e%2f%2e%2e%2fsecret/report",
        "/photographs/..%5c..%5csecret",
        "/photographs/%00/finding",
        "/photographs/%2fetc%2fpasswd/shown",
    ] {
        let answer = page.get(target);
        answer.is_trouble(404);
        assert!(!answer.text().contains("secret\": 1"));
        page.ask("DELETE", target, &[], &[]);
        page.post(&format!("{target}/remove"), "*/*", "x=");
    }
    assert!(place.path().join("secret.json").is_file());
    // Names of photographs are no paths either.
    for name in ["..%2f..%2fsecret.json", "%2ftmp%2fx.jpg", "a%00b.jpg"] {
        page.send(name, &fixture("turn-00.jpg"));
    }
    let names: Vec<String> =
        std::fs::read_dir(&folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    assert_eq!(names.len(), 6, "{names:?}");
    assert!(names.iter().all(|name| name.len() <= 12 + 6 && (name.ends_with(".json") || name.ends_with(".photo"))));
    assert_eq!(std::fs::read_dir(place.path()).unwrap().count(), 2);
}

#[test]
fn what_is_asked_wrongly_is_told_so() {
    let page = Open::with(&[]);
    let id = page.send("turn-00.jpg", &fixture("turn-00.jpg"));
    let target = format!("/photographs/{id}/finding");
    for fields in [
        "place=elbow",
        "tolerance=-3",
        "unknown=1",
        "seam=1%2C2",
        "scale=length&ends=1%2C1+2%2C2",
        "seam=nan%2C1+2%2C2",
    ] {
        page.post(&target, "*/*", fields).is_trouble(400);
    }
    page.post("/photographs/AAAAAAAAAAAA/finding", "*/*", "place=hem").is_trouble(404);
    page.ask("PUT", "/photographs", &[], b"x").is_trouble(405);
    page.ask("POST", &target, &[("Content-Type", "text/plain")], b"place=hem").is_trouble(400);
    page.get("/nowhere").is_trouble(404);
    // A mark outside the picture is a refusal, and a refusal is an answer.
    assert_eq!(page.post(&target, "*/*", "seam=-5%2C1+2%2C9000").json()["refused"]["code"], "outside-picture");
    // Lines that are no HTTP at all.
    let mut stream = TcpStream::connect(&page.host).unwrap();
    stream.write_all(b"\x16\x03\x01 hello\r\n\r\n").unwrap();
    let mut said = Vec::new();
    let _ = stream.read_to_end(&mut said);
    assert!(said.is_empty() || said.starts_with(b"HTTP/1.1 400"));
    goes_on(&page);
}
