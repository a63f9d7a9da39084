//! The server itself: the addresses it answers, and when it stops.

use super::door::{self, Door};
use super::folder::Folder;
use super::seats::Seats;
use super::store::Store;
use super::trouble::Trouble;
use super::{PageOptions, Reach, answer, measure, sheet, upload};
use crate::digits::Unit;
use crate::photo::Limits;
use crate::problem::Problem;
use crate::settings::Settings;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::HeaderMap;
use axum::middleware;
use axum::routing::{get, post};
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;

/// Largest photograph that is taken in, bytes.
pub const MOST_UPLOAD_BYTES: usize = 32 << 20;
/// Largest form that is read, bytes.
const MOST_FORM_BYTES: usize = 64 << 10;
/// Most pixels of a photograph that is taken in.
const MOST_PIXELS: u64 = 50_000_000;
/// Photographs that are received at once, and how many more may wait for it.
const RECEIVED_AT_ONCE: (usize, usize) = (2, 64);
/// Photographs that are measured at once, and how many more may wait for it.
const MEASURED_AT_ONCE: (usize, usize) = (1, 32);
/// How long a measurement may go on once the page is told to stop.
const LAST_WORK: Duration = Duration::from_secs(5);

/// What every request may use.
pub struct Shared {
    pub door: Arc<Door>,
    pub store: Store,
    pub receive: Seats,
    pub work: Seats,
    pub settings: Settings,
    pub unit: Unit,
}

/// A page whose address is bound.
pub struct Open {
    runtime: tokio::runtime::Runtime,
    listener: tokio::net::TcpListener,
    shared: Arc<Shared>,
}

impl Open {
    pub(super) fn new(options: PageOptions) -> Result<Self, Problem> {
        let ip = match options.reach {
            Reach::ThisMachine => IpAddr::V4(Ipv4Addr::LOCALHOST),
            Reach::Network(Some(ip)) => ip,
            Reach::Network(None) => door::network_address()?,
        };
        let key = match options.reach {
            Reach::ThisMachine => None,
            Reach::Network(_) => Some(door::new_key()?),
        };
        let folder = options.folder.as_deref().map(Folder::at).transpose()?;
        let limits = Limits { file_bytes: MOST_UPLOAD_BYTES as u64, pixels: MOST_PIXELS, ..Limits::default() };
        let store = Store::new(folder, limits)?;
        let wanted = SocketAddr::new(ip, options.port);
        let cannot = |e: std::io::Error| {
            Problem::io(
                format!("the page cannot be opened at {wanted}: {e}"),
                "name another port with --port, or 0 for any that is free",
            )
        };
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(cannot)?;
        let listener = runtime.block_on(tokio::net::TcpListener::bind(wanted)).map_err(cannot)?;
        let door = Arc::new(Door { address: listener.local_addr().map_err(cannot)?, key });
        let shared = Arc::new(Shared {
            door,
            store,
            receive: Seats::new(RECEIVED_AT_ONCE.0, RECEIVED_AT_ONCE.1),
            work: Seats::new(MEASURED_AT_ONCE.0, MEASURED_AT_ONCE.1),
            settings: options.settings,
            unit: options.unit,
        });
        Ok(Self { runtime, listener, shared })
    }

    /// The address to open in a browser; it holds the key where there is one.
    pub fn url(&self) -> String {
        self.shared.door.url()
    }

    /// Answers until Ctrl-C, or the system's request to end. What is being measured then has a few seconds to end.
    ///
    /// # Errors
    /// [`Problem::Io`] where the system takes the address away.
    pub fn serve(self) -> Result<(), Problem> {
        let Self { runtime, listener, shared } = self;
        let app = routes(shared);
        let served = runtime.block_on(async {
            let (told, mut tell) = tokio::sync::watch::channel(false);
            let stop = async move {
                asked_to_end().await;
                let _ = told.send(true);
            };
            let last_work = async move {
                let _ = tell.changed().await;
                tokio::time::sleep(LAST_WORK).await;
            };
            tokio::select! {
                done = axum::serve(listener, app).with_graceful_shutdown(stop) => done,
                () = last_work => Ok(()),
            }
        });
        runtime.shutdown_timeout(Duration::from_millis(100));
        served.map_err(|e| Problem::io(format!("the page broke off: {e}"), "start it again"))
    }
}

async fn asked_to_end() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut end) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => (),
                _ = end.recv() => (),
            }
            return;
        }
    }
    let _ = tokio::signal::ctrl_c().await;
}

fn routes(shared: Arc<Shared>) -> Router {
    let door = Arc::clone(&shared.door);
    Router::new()
        .route("/", get(sheet::front))
        .route("/compare", get(sheet::compare))
        .route("/page.css", get(sheet::style))
        .route("/icon.svg", get(sheet::icon))
        .route("/page.js", get(sheet::script))
        .route("/card.pdf", get(answer::card))
        .route("/photographs/{id}", get(sheet::seam).delete(answer::remove))
        .route("/photographs/{id}/finding", get(answer::finding).post(measure::measure))
        .route("/photographs/{id}/report", get(answer::report))
        .route("/photographs/{id}/picture", get(answer::picture))
        .route("/photographs/{id}/seam", get(answer::seam))
        .route("/photographs/{id}/shown", get(answer::shown))
        .route("/photographs/{id}/remove", post(answer::remove))
        .layer(DefaultBodyLimit::max(MOST_FORM_BYTES))
        .route("/photographs", post(upload::upload).layer(DefaultBodyLimit::disable()))
        .method_not_allowed_fallback(|headers: HeaderMap| async move { Trouble::not_so().answer(&headers) })
        .fallback(|headers: HeaderMap| async move { Trouble::nothing_here().answer(&headers) })
        .layer(middleware::from_fn_with_state(door, door::guard))
        .with_state(shared)
}
