//! The workbench in the browser, served from this machine.
//!
//! Layer 11. The server knows only the [`Workbench`] trait; the page is plain
//! HTML, CSS and ES modules under `page/`, carried inside the binary, and asks
//! nothing of any other host. No module here opens a store, nor any
//! file but a copy of everything that was sent to be put back, while it is read.

mod assets;
mod counter;
mod dealing;
mod devices;
mod error;
mod extract;
mod guard;
mod housekeeping;
mod ledger;
mod openapi;
mod pairing;
mod plan_view;
mod rate;
mod routes;
mod scene;
mod serve;
mod shapes;
mod studies;
mod tracing;
mod wheel;
mod workbench;
mod works;

pub use assets::page_version;
pub use counter::{Counter, KeepWith};
pub use dealing::{Dealing, FinishedForm, ScaleView, WordView};
pub use housekeeping::{
    COPY_BYTES_MAX, CopyView, HoldingsView, Housekeeping, Imported, PutBack, WheelsPage,
};
pub use pairing::DeviceBook;
pub use plan_view::{binding_key, plan_key};
pub use routes::{lan_router, router};
pub use scene::{BarView, Heights, Scene, SightingView};
pub use serve::{DEFAULT_ADDRESS, LanOpened, Opened, ServeError, serve};
pub use shapes::{
    Amount, BidView, CutStoneView, CutView, FORMAT, Figure, Forecast, LimitView, N_DOTS, PlanView,
    PriceLook, RevisionView, StockView, StoneCard, StonePage, SurfaceView, ValueView,
};
pub use studies::{Studies, StudyForm, StudyFound, StudyName};
pub use tracing::{BarForm, BarSeenFrom, TraceForm, TraceScale, Tracing};
pub use wheel::{
    AtTheWheel, DryingQuestion, FinishQuestion, SawOrGrindQuestion, SentEvent, WheelPage,
};
pub use workbench::{
    Download, NamedFile, PriceBookText, StoneNumber, Watch, Workbench, WorkbenchError,
};
