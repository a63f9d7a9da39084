//! Who is let in: the right `Host`, the key where there is one, no writing from another site; and what every answer tells
//! the browser about itself.

use super::trouble::Trouble;
use crate::problem::Problem;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, Uri, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::sync::Arc;

/// Bytes of chance in a key.
const KEY_BYTES: usize = 16;
/// The cookie that a browser carries the key in.
const COOKIE: &str = "seamstep-key";

/// What a browser may do with an answer: its own style, script and pictures, nothing from elsewhere, in no frame.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' blob:; connect-src 'self'; \
                      form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The address that the page answers at, and the key to it.
#[derive(Clone, Debug)]
pub struct Door {
    /// The address that was bound.
    pub address: SocketAddr,
    /// The key; `None` on this machine alone.
    pub key: Option<String>,
}

impl Door {
    /// The address to open in a browser, with the key in it where there is one.
    pub fn url(&self) -> String {
        match &self.key {
            None => format!("http://{}/", self.address),
            Some(key) => format!("http://{}/?key={key}", self.address),
        }
    }

    /// Whether a request is meant for this page. A page elsewhere whose name was bent to this machine's address
    /// says its own name here.
    fn is_mine(&self, host: &str) -> bool {
        let port = self.address.port();
        let bare = match host.rsplit_once(':') {
            Some((name, said)) if said.parse() == Ok(port) => name,
            None if port == 80 => host,
            _ => return false,
        };
        let ip = bare.trim_start_matches('[').trim_end_matches(']').parse::<IpAddr>();
        let here = self.address.ip();
        ip == Ok(here)
            || (here.is_loopback() && (bare.eq_ignore_ascii_case("localhost") || ip.is_ok_and(|ip| ip.is_loopback())))
    }

    /// Whether a request carries the key: in its cookie, or as a bearer token (RFC 6750).
    fn is_known(&self, headers: &HeaderMap) -> bool {
        let Some(key) = &self.key else { return true };
        let bearer = text(headers, header::AUTHORIZATION).and_then(|v| v.strip_prefix("Bearer "));
        let cookies = headers.get_all(header::COOKIE).into_iter().filter_map(|v| v.to_str().ok());
        let mut carried = cookies.flat_map(|v| v.split(';')).filter_map(|pair| pair.trim().split_once('='));
        bearer.is_some_and(|said| same(said, key)) || carried.any(|(name, said)| name == COOKIE && same(said, key))
    }
}

/// A new key.
///
/// # Errors
/// [`Problem::Io`] where the system gives no chance.
pub fn new_key() -> Result<String, Problem> {
    let mut bytes = [0; KEY_BYTES];
    getrandom::fill(&mut bytes).map_err(|e| {
        Problem::io(format!("no random key can be made: {e}"), "serve this machine alone, without --lan")
    })?;
    Ok(URL_SAFE_NO_PAD.encode(bytes))
}

/// This machine's address on the local network.
///
/// # Errors
/// [`Problem::Io`] where it is on none.
pub fn network_address() -> Result<IpAddr, Problem> {
    // No packet is sent: the system only says which of its addresses it would send from. The other end is an address for
    // documentation (RFC 5737).
    let asked = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0))
        .and_then(|socket| socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).and_then(|()| socket.local_addr()));
    match asked {
        Ok(address) if !address.ip().is_unspecified() && !address.ip().is_loopback() => Ok(address.ip()),
        _ => Err(Problem::io(
            "this machine has no address on a local network",
            "join the network the phone is on, or name the address: --lan 192.168.1.20",
        )),
    }
}

/// Compares in a time that does not tell how far two texts agree.
fn same(one: &str, other: &str) -> bool {
    one.len() == other.len() && one.bytes().zip(other.bytes()).fold(0, |unlike, (a, b)| unlike | (a ^ b)) == 0
}

/// What a header says, where it is there and is text.
pub fn text(headers: &HeaderMap, name: impl header::AsHeaderName) -> Option<&str> {
    headers.get(name).and_then(|value| value.to_str().ok())
}

/// Lets a request in or turns it away, and tells the browser how careful to be with the answer.
pub async fn guard(State(door): State<Arc<Door>>, request: Request, next: Next) -> Response {
    let mut response = match admit(&door, &request) {
        Admitted::Yes => next.run(request).await,
        Admitted::WithCookie(response) => response,
        Admitted::No(trouble) => trouble.answer(request.headers()),
    };
    let headers = response.headers_mut();
    let mut tell = |name: header::HeaderName, value: &'static str| {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    };
    tell(header::CONTENT_SECURITY_POLICY, POLICY);
    tell(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    // Not "no-referrer": a browser would then call the origin of a form that is sent "null".
    tell(header::REFERRER_POLICY, "same-origin");
    tell(header::HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    tell(header::CACHE_CONTROL, "no-store");
    response
}

enum Admitted {
    Yes,
    /// The key came with the address: the browser keeps it, and the address is shown without it.
    WithCookie(Response),
    No(Trouble),
}

fn admit(door: &Door, request: &Request) -> Admitted {
    let headers = request.headers();
    if !text(headers, header::HOST).is_some_and(|host| door.is_mine(host)) {
        return Admitted::No(Trouble::new(
            StatusCode::MISDIRECTED_REQUEST,
            "this request was meant for another address",
            format!("open the page at http://{}/", door.address),
        ));
    }
    if let (Some(key), Some(said)) = (&door.key, key_in(request.uri()))
        && *request.method() == Method::GET
        && same(said, key)
    {
        return Admitted::WithCookie(keep_key(key));
    }
    if !door.is_known(headers) {
        return Admitted::No(Trouble::new(
            StatusCode::FORBIDDEN,
            "the key is missing or is not today's",
            "open the whole address that seamstep printed, or scan its code again",
        ));
    }
    let reads = matches!(*request.method(), Method::GET | Method::HEAD | Method::OPTIONS);
    if !reads && !from_here(door, headers) {
        return Admitted::No(Trouble::new(
            StatusCode::FORBIDDEN,
            "another site asked for this",
            format!("do it from the page itself, at http://{}/", door.address),
        ));
    }
    Admitted::Yes
}

/// Whether what is asked was asked by this page, or by no page at all (a script on the command line).
fn from_here(door: &Door, headers: &HeaderMap) -> bool {
    let origin = text(headers, header::ORIGIN);
    let site = text(headers, "sec-fetch-site");
    origin.is_none_or(|origin| origin.strip_prefix("http://").is_some_and(|host| door.is_mine(host)))
        && site.is_none_or(|site| matches!(site, "same-origin" | "none"))
        && (headers.get(header::ORIGIN).is_some() == origin.is_some())
}

fn key_in(uri: &Uri) -> Option<&str> {
    uri.query()?.split('&').find_map(|pair| pair.strip_prefix("key="))
}

fn keep_key(key: &str) -> Response {
    let cookie = format!("{COOKIE}={key}; Path=/; HttpOnly; SameSite=Lax");
    (StatusCode::SEE_OTHER, [(header::SET_COOKIE, cookie), (header::LOCATION, "/".to_owned())]).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn door(address: &str, key: Option<&str>) -> Door {
        Door { address: address.parse().unwrap(), key: key.map(Into::into) }
    }

    #[test]
    fn only_its_own_names_are_its_own() {
        let here = door("127.0.0.1:8340", None);
        for host in ["127.0.0.1:8340", "localhost:8340", "LOCALHOST:8340", "[::1]:8340"] {
            assert!(here.is_mine(host), "{host}");
        }
        for host in [
            "",
            "localhost",
            "localhost:80",
            "example.org:8340",
            "127.0.0.1.example.org:8340",
            "10.0.0.1:8340",
            ":8340",
        ] {
            assert!(!here.is_mine(host), "{host}");
        }
        let there = door("192.168.1.20:80", Some("k"));
        assert!(there.is_mine("192.168.1.20") && there.is_mine("192.168.1.20:80"));
        assert!(!there.is_mine("localhost:80") && !there.is_mine("192.168.1.21:80"));
    }

    #[test]
    fn the_key_is_known_in_a_cookie_or_as_a_token() {
        let there = door("192.168.1.20:8340", Some("right"));
        let with = |name: header::HeaderName, value: &str| {
            let mut headers = HeaderMap::new();
            headers.insert(name, value.parse().unwrap());
            there.is_known(&headers)
        };
        assert!(with(header::COOKIE, "a=b; seamstep-key=right"));
        assert!(with(header::AUTHORIZATION, "Bearer right"));
        assert!(!with(header::COOKIE, "seamstep-key=wrong") && !with(header::COOKIE, "other=right"));
        assert!(!with(header::AUTHORIZATION, "Bearer righ") && !there.is_known(&HeaderMap::new()));
        assert!(door("127.0.0.1:1", None).is_known(&HeaderMap::new()));
    }

    #[test]
    fn another_site_writes_nothing_here() {
        let here = door("127.0.0.1:8340", None);
        let with = |pairs: &[(&'static str, &str)]| {
            let mut headers = HeaderMap::new();
            for (name, value) in pairs {
                headers.insert(*name, value.parse().unwrap());
            }
            from_here(&here, &headers)
        };
        assert!(with(&[]) && with(&[("origin", "http://localhost:8340"), ("sec-fetch-site", "same-origin")]));
        assert!(!with(&[("origin", "http://example.org")]) && !with(&[("origin", "null")]));
        assert!(!with(&[("sec-fetch-site", "cross-site")]) && !with(&[("sec-fetch-site", "same-site")]));
        assert!(!with(&[("origin", "https://localhost:8340")]));
    }

    #[test]
    fn keys_are_long_and_differ() {
        let [one, other] = [new_key().unwrap(), new_key().unwrap()];
        assert!(one.len() >= 22 && one != other);
    }
}
