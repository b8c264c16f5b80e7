//! One port for both: whoever begins with TLS is served over TLS; whoever speaks plain HTTP gets the application on the
//! machine itself, and from elsewhere only the page that says why that cannot work and what to do.

use std::net::TcpListener;
use std::time::Duration;

use actix_http::HttpService;
use actix_server::{Server, ServerBuilder};
use actix_service::boxed::{self, BoxService};
use actix_service::{IntoServiceFactory, ServiceFactory, ServiceFactoryExt, fn_factory, fn_service, map_config};
use actix_web::body::MessageBody;
use actix_web::dev::{AppConfig, ServiceRequest, ServiceResponse};
use actix_web::rt::net::TcpStream;
use actix_web::{App, Error};
use rustls::ServerConfig;

/// The first byte of a TLS record that opens a connection (RFC 8446, 5.1: handshake).
const HANDSHAKE: u8 = 22;

type Connection = BoxService<TcpStream, (), ()>;

/// Listens at the door. `application` is for TLS and for the machine itself, `doorstep` for plain HTTP from elsewhere.
///
/// # Errors
/// When the listener cannot be used.
pub fn listen<T, B, U, C>(
    builder: ServerBuilder,
    (listener, tls, head): (TcpListener, ServerConfig, Duration),
    application: impl Fn() -> App<T> + Clone + Send + 'static,
    doorstep: impl Fn() -> App<U> + Clone + Send + 'static,
) -> std::io::Result<Server>
where
    T: ServiceFactory<ServiceRequest, Config = (), Response = ServiceResponse<B>, Error = Error, InitError = ()>
        + 'static,
    U: ServiceFactory<ServiceRequest, Config = (), Response = ServiceResponse<C>, Error = Error, InitError = ()>
        + 'static,
    B: MessageBody + 'static,
    C: MessageBody + 'static,
{
    let builder = builder.listen("yardjar", listener, move || {
        let https = HttpService::build()
            .client_request_timeout(head)
            .finish(map_config(application().into_factory(), |()| AppConfig::default()))
            .rustls_0_23(tls.clone());
        let here = HttpService::build()
            .client_request_timeout(head)
            .finish(map_config(application().into_factory(), |()| AppConfig::default()))
            .tcp();
        let step = HttpService::build()
            .client_request_timeout(head)
            .finish(map_config(doorstep().into_factory(), |()| AppConfig::default()))
            .tcp();
        let (https, here, step) = (
            boxed::factory(https.map_err(drop)),
            boxed::factory(here.map_err(drop)),
            boxed::factory(step.map_err(drop)),
        );
        let both = std::rc::Rc::new((https, here, step));
        fn_factory(move || {
            let both = std::rc::Rc::clone(&both);
            async move {
                let (https, here, step) = (
                    both.0.new_service(()).await?,
                    both.1.new_service(()).await?,
                    both.2.new_service(()).await?,
                );
                let led = std::rc::Rc::new((https, here, step));
                Ok::<_, ()>(fn_service(move |io: TcpStream| {
                    let led = std::rc::Rc::clone(&led);
                    async move { lead(&led, io, head).await }
                }))
            }
        })
    })?;
    Ok(builder.run())
}

async fn lead(
    (https, here, step): &(Connection, Connection, Connection),
    io: TcpStream,
    head: Duration,
) -> Result<(), ()> {
    use actix_service::Service;
    let mut first = [0];
    // Nobody may hold a connection open without a word.
    let read = tokio::time::timeout(head, io.peek(&mut first)).await;
    let Ok(Ok(1)) = read else {
        return Ok(());
    };
    let local = io.peer_addr().is_ok_and(|peer| peer.ip().to_canonical().is_loopback());
    match (first[0] == HANDSHAKE, local) {
        (true, _) => https.call(io).await,
        (false, true) => here.call(io).await,
        (false, false) => step.call(io).await,
    }
}
