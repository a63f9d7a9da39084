//! The page as a browser, a script or an attacker meets it: over the network, by bytes that nothing has made harmless.
#![allow(missing_docs)]

#[path = "page/hostile.rs"]
mod hostile;
#[path = "page/open.rs"]
mod open;
#[path = "page/work.rs"]
mod work;
