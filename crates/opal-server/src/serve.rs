//! The socket.

use crate::devices::{pairing_url, qr};
use crate::guard::Lan;
use crate::routes::{Served, router_with};
use crate::workbench::{Workbench, WorkbenchError};
use qrcode::render::unicode::Dense1x2;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
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
        "{0} can be reached from other machines; add --lan to open the workbench to devices that \
         are paired with it, or listen on this machine only (127.0.0.1)"
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
    /// This computer has no address that a device could reach.
    #[error("this computer is on no network that a device could reach it by")]
    NoNetwork,
    /// The list of paired devices cannot be read.
    #[error(transparent)]
    Devices(#[from] WorkbenchError),
    /// The system gave up.
    #[error("the server stopped: {0}")]
    Io(#[from] std::io::Error),
}

/// What is open once the server listens.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// The page on this computer, such as `http://127.0.0.1:7117/`.
    pub address: String,
    /// The page on the shop's network.
    pub lan: Option<LanOpened>,
}

/// The door to the shop's network.
#[derive(Clone, Debug, PartialEq)]
pub struct LanOpened {
    /// The page for devices.
    pub address: String,
    /// A code that lets one device in.
    pub code: String,
    /// The address with the code as a QR code, drawn in half blocks.
    pub picture: String,
}

/// This computer's address on the network that leads out. Nothing is sent: the
/// system is only asked which address it would send from (192.0.2.1 is kept
/// free for such uses by RFC 5737).
fn address_on_the_network() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect(("192.0.2.1", 9)).ok()?;
    let ip = socket.local_addr().ok()?.ip();
    (!ip.is_loopback() && !ip.is_unspecified()).then_some(ip)
}

/// Serves until Ctrl-C. `ready` is called once with where the page is. A port
/// of 0 takes any free one. With `lan` the page is open to paired devices too:
/// at `address` where that is this computer's on its network, else at the one
/// that the system names.
///
/// # Errors
/// Without `lan`, an address that other machines could reach; one that is
/// taken; no network; a store that cannot be read; the system.
pub fn serve(
    bench: Arc<dyn Workbench>,
    address: SocketAddr,
    lan: bool,
    ready: impl FnOnce(&Opened),
) -> Result<(), ServeError> {
    if !lan && !address.ip().is_loopback() {
        return Err(ServeError::NotLoopback(address));
    }
    let own = if !lan || address.ip().is_loopback() || address.ip().is_unspecified() {
        address_on_the_network()
    } else {
        Some(address.ip())
    };
    let listen = if lan {
        SocketAddr::new(Ipv4Addr::UNSPECIFIED.into(), address.port())
    } else {
        address
    };
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()?;
    let result = runtime.block_on(async {
        let listener = tokio::net::TcpListener::bind(listen)
            .await
            .map_err(|source| ServeError::Listen {
                address: listen,
                source,
            })?;
        let port = listener.local_addr()?.port();
        let door = if lan {
            let ip = own.ok_or(ServeError::NoNetwork)?;
            Some(Lan::open(bench.as_ref(), SocketAddr::new(ip, port))?)
        } else {
            None
        };
        let own_ip = if lan {
            Ipv4Addr::LOCALHOST.into()
        } else {
            address.ip()
        };
        let opened = Opened {
            address: format!("http://{}/", SocketAddr::new(own_ip, port)),
            lan: door.as_ref().map(opened_lan).transpose()?,
        };
        let served = Served::new(bench, door);
        let works = served.works.clone();
        let app = router_with(served).into_make_service_with_connect_info::<SocketAddr>();
        ready(&opened);
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

fn opened_lan(lan: &Lan) -> Result<LanOpened, WorkbenchError> {
    let code = lan.pairing.new_code()?;
    let picture = qr(&pairing_url(lan, &code))?;
    Ok(LanOpened {
        address: lan.url(),
        code,
        picture: picture
            .render::<Dense1x2>()
            // Most terminals write light on dark; a camera wants dark squares on light.
            .dark_color(Dense1x2::Light)
            .light_color(Dense1x2::Dark)
            .build(),
    })
}
