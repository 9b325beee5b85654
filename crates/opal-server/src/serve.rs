//! The socket.

use crate::routes::{Served, router_with};
use crate::workbench::Workbench;
use crate::works::Works;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use thiserror::Error;

/// Where the server listens when nothing else was asked: loopback, so that no
/// other machine reaches it. Chosen: a port above those that systems reserve
/// and below those that they hand out by themselves.
pub const DEFAULT_ADDRESS: SocketAddr =
    SocketAddr::new(std::net::IpAddr::V4(std::net::Ipv4Addr::LOCALHOST), 7117);

/// How long open requests may take to end once the server was told to stop.
const GRACE: Duration = Duration::from_secs(2);

/// Why the server could not serve.
#[derive(Debug, Error)]
pub enum ServeError {
    /// The address would be reachable from other machines.
    #[error(
        "{0} can be reached from other machines; the workbench has no lock on its door yet, so it \
         listens on this machine only (127.0.0.1)"
    )]
    NotLoopback(SocketAddr),
    /// The address is taken or not allowed.
    #[error("{address} cannot be listened on: {source}")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// What the system said.
        source: std::io::Error,
    },
    /// The system gave up.
    #[error("the server stopped: {0}")]
    Io(#[from] std::io::Error),
}

/// Serves until Ctrl-C. `ready` is called once with the page's address, such as
/// `http://127.0.0.1:7117/`. A port of 0 takes any free one.
///
/// # Errors
/// An address that other machines could reach; one that is taken; the system.
pub fn serve(
    bench: Arc<dyn Workbench>,
    address: SocketAddr,
    ready: impl FnOnce(&str),
) -> Result<(), ServeError> {
    if !address.ip().is_loopback() {
        return Err(ServeError::NotLoopback(address));
    }
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()?;
    let result = runtime.block_on(async {
        let listener = tokio::net::TcpListener::bind(address)
            .await
            .map_err(|source| ServeError::Listen { address, source })?;
        let address = listener.local_addr()?;
        let works = Works::default();
        let app = router_with(Served {
            bench,
            works: works.clone(),
        });
        ready(&format!("http://{address}/"));
        let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
        let server = axum::serve(listener, app).with_graceful_shutdown(async {
            let _ = stopped.await;
        });
        let server = std::future::IntoFuture::into_future(server);
        tokio::pin!(server);
        tokio::select! {
            end = &mut server => return Ok(end?),
            _ = tokio::signal::ctrl_c() => {}
        }
        works.cancel_all();
        let _ = stop.send(());
        // Open event streams would hold the server up; they are cut off.
        match tokio::time::timeout(GRACE, server).await {
            Ok(end) => Ok(end?),
            Err(_) => Ok(()),
        }
    });
    runtime.shutdown_timeout(GRACE);
    result
}
